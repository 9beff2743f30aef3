"""Morphs and genotypes: the catalogue, trade notation, crosses, possible hets, evidence."""
