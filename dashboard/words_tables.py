"""The words of taking a page's tables away."""

from __future__ import annotations

TAKE_ALL = "Take the tables of this page"
FILE = "penwise-tables"
KINDS = {"xlsx": "One workbook (XLSX)", "csv": "CSV, in a zip file", "parquet": "Parquet, in a zip file"}
"""Kind of table -> its name on the button."""
