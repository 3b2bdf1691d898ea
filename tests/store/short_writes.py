"""Small pieces of work on a store, for the tests and for the other programs that they start."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import duckdb

from analytics.store.audit import begin_entry, finish_entry
from analytics.store.connection import reading, writing


def add_pen(store: Path, pen: str) -> None:
    """One short write with its ledger entry."""
    with writing(store) as connection:
        put_pen(connection, pen)


def put_pen(connection: duckdb.DuckDBPyConnection, pen: str) -> None:
    """The same within a transaction."""
    entry = begin_entry(connection, "load", "pens.csv")
    connection.execute(
        "INSERT INTO pens (pen, species, row_key, added_in) VALUES (?, 'chicken', lower(?), ?)",
        [pen, pen, entry],
    )
    finish_entry(connection, entry, 1, 0, 0)


def pens_in(store: Path) -> set[str]:
    """The labels of all pens."""
    with reading(store) as connection:
        return {str(row[0]) for row in connection.execute("SELECT pen FROM pens").fetchall()}


def start_program(script: str, *arguments: object) -> subprocess.Popen[str]:
    """Another Python program that knows these functions and gets arguments."""
    here = Path(__file__).read_text(encoding="utf-8")
    return subprocess.Popen(
        [sys.executable, "-c", f"{here}\n{script}", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
