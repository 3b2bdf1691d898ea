"""The store: one DuckDB file, opened for one piece of work at a time."""
