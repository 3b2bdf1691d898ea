"""Pieces of pages."""
