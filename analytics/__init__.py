"""Hatch records in, honest numbers out: the part of penwise that knows no screen."""

import os

# The matrices here are small: more threads only wait for each other (a fit took 15 times as long on a busy
# machine). It works where this is imported before numpy, and a setting of the user's own is kept.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
