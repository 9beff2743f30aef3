"""Wishes that count young: their terms, laws and the cuts that bound them."""
