"""Logs and stores that were cut, or have bytes turned over: what is missing is said, to readers and writers
alike.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from random import Random
from typing import Any

import duckdb
from programs import State, elsewhere, state_of

from analytics.errors import NotAStore, StoreDamaged, StoreError
from analytics.sheets.noting import note
from analytics.store import connection
from analytics.store.care import table_sums
from analytics.store.connection import reading, writing
from analytics.store.tally import write_tally

COMMITS = 4


@dataclass(slots=True)
class Damaged:
    """What became of one kind of damage."""

    name: str
    rounds: int = 0
    said: int = 0
    harmless: int = 0
    misses: list[str] = field(default_factory=list)

    def line(self) -> str:
        """As it is printed."""
        head = f"{self.name:<30}{self.rounds:>8} damaged, {self.said:>4} said to be,"
        head += f" {self.harmless:>4} where nothing was"
        return "\n".join(
            [f"{head}, {len(self.misses):>4} not said", *(f"    {one}" for one in self.misses[:4])]
        )


def _cut(path: Path, dice: Random) -> None:
    os.truncate(path, dice.randrange(path.stat().st_size))


def _turn(path: Path, dice: Random) -> None:
    whole = bytearray(path.read_bytes())
    for _ in range(dice.choice((1, 1, 8))):
        whole[dice.randrange(len(whole))] ^= dice.randrange(1, 256)
    path.write_bytes(whole)


def _gone(path: Path, _: Random) -> None:
    path.unlink()


DAMAGES: dict[str, tuple[str, Callable[[Path, Random], None]]] = {
    "log cut": ("farm.duckdb.wal", _cut),
    "log with bytes turned over": ("farm.duckdb.wal", _turn),
    "log gone": ("farm.duckdb.wal", _gone),
    "store cut": ("farm.duckdb", _cut),
    "store with bytes turned over": ("farm.duckdb", _turn),
}


def damage_round(name: str, rounds: int, dice: Random, room: Path) -> Damaged:
    """Damages a store so many times and looks whether it is said.

    Args:
        name: which damage.
        rounds: how often.
        dice: where.
        room: folder that holds `bases/store`.
    """
    part, spoil = DAMAGES[name]
    base, here = room / "crashed", room / "damaged"
    if not base.exists():
        shutil.copytree(room / "bases" / "store", base)
        elsewhere(lambda: _crash(base / "farm.duckdb"))
    if part == "farm.duckdb":
        base = room / "bases" / "store"
    whole = elsewhere(lambda: _as_seen(base / "farm.duckdb"))
    told = Damaged(name)
    for _ in range(1 if spoil is _gone else rounds):
        shutil.rmtree(here, ignore_errors=True)
        shutil.copytree(base, here)
        spoil(here / part, dice)
        told.rounds += 1
        _judge(told, here / "farm.duckdb", whole)
    return told


def _crash(store: Path) -> None:
    """Commits that stay in the log, counted by the tally, as after a power cut."""
    open_one = duckdb.connect

    def without_checkpoint(*given: Any, **how: Any) -> Any:
        opened = open_one(*given, **how)
        if not how.get("read_only"):
            opened.execute("PRAGMA disable_checkpoint_on_shutdown")
        return opened

    def only_counted(opened: Any, path: Path, *, whole: bool) -> None:
        assert not whole
        write_tally(path, connection.tally_in(opened))

    duckdb.connect, connection._settle = without_checkpoint, only_counted
    for number in range(COMMITS):
        note(store, f"change {number}", date(2026, 3, 6 + number))


def leave_log(store: Path) -> None:
    """One more pen in the log, which the tally does not count: as after a kill right after the commit."""
    with duckdb.connect(str(store)) as opened:
        opened.execute("PRAGMA disable_checkpoint_on_shutdown")
        opened.begin()
        entry = opened.execute("SELECT max(entry_no) + 1 FROM ledger").fetchall()[0][0]
        opened.execute(
            "INSERT INTO ledger VALUES (?, 'load', now(), 'me', 'pens.csv', 1, 0, 0, NULL)", [entry]
        )
        opened.execute(
            "INSERT INTO pens (pen, species, row_key, added_in) VALUES ('Late', 'chicken', 'late', ?)",
            [entry],
        )
        opened.execute("UPDATE store_meta SET change_count = ?", [entry])
        opened.commit()


def _as_seen(store: Path) -> State:
    with reading(store) as open_store:
        table_sums(open_store)
    return state_of(store)


def _judge(told: Damaged, store: Path, whole: State) -> None:
    answers = [elsewhere(lambda look=look: look(store)) for look in (_read, _write)]
    for answer in answers:
        if isinstance(answer, str):
            if not answer.startswith("said: "):
                told.misses.append(answer[-300:])
                return
        elif {name: answer[name] for name in whole if name not in _GROWN} != {
            name: whole[name] for name in whole if name not in _GROWN
        }:
            told.misses.append("rows are missing, and nobody said so")
            return
    if all(isinstance(answer, str) for answer in answers):
        told.said += 1
    elif any(isinstance(answer, str) for answer in answers):
        told.misses.append(f"said to one only: {next(a for a in answers if isinstance(a, str))[:200]}")
    else:
        told.harmless += 1


_GROWN = ("store_meta",)


def _read(store: Path) -> State | str:
    try:
        return _as_seen(store)
    except (StoreDamaged, NotAStore) as error:
        return _clear(error)


def _write(store: Path) -> State | str:
    try:
        with writing(store) as open_store:
            table_sums(open_store)
    except (StoreDamaged, NotAStore) as error:
        return _clear(error)
    return state_of(store)


def _clear(error: StoreError) -> str:
    words = str(error)
    return (
        f"said: {words}" if "restore" in words or "copy" in words.lower() else f"without what to do: {words}"
    )
