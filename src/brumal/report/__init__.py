"""Output: terminal, pages, tables; reads results and computes nothing."""
