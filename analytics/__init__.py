"""Hatch records in, honest numbers out: the part of penwise that knows no screen."""

__version__ = "0.1.0"
