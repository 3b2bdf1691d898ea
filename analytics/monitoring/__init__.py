"""Watching pens and machines month by month: run charts with limits, and what of it is a signal."""
