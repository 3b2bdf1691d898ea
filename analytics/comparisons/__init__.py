"""Comparisons of rates: tests, intervals and shrinkage on counts of eggs."""
