"""Measures: counts in, rates with their intervals out."""
