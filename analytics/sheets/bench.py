"""Entry at the bench: taps that add up to a draft of a tray, and closing it into the sheet trays.

Every tap is kept by itself, in one transaction, before anybody counts it. Two devices on one tray add; each
takes back its own taps only. What is drafted adds to what the sheet has already, such as eggs taken out at
candling, and is in no rate until the tray is closed.
"""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb

from analytics.errors import WrongUsage
from analytics.sheets.contract import BY_NAME, OUTCOMES
from analytics.sheets.keys import quoted, row_key
from analytics.sheets.load import ByHand
from analytics.sheets.report import LoadReport
from analytics.sheets.typed import Cells, keep_rows, of_row
from analytics.store.connection import LeaveUnchanged, reading, writing

UNDO = "undo"
"""Instead of an outcome: takes back the device's last tap."""
_LONGEST_NAME = 80
_DRAFT = """
SELECT row_key, outcome, CAST(sum(eggs) AS BIGINT) AS eggs, max(made_at) AS last_at
FROM taps WHERE closed_in IS NULL GROUP BY row_key, outcome HAVING sum(eggs) <> 0
"""
_LAST_OWN = """
SELECT tap, outcome, eggs FROM taps t
WHERE row_key = $1 AND device = $2 AND closed_in IS NULL AND undoes IS NULL
    AND NOT EXISTS (SELECT 1 FROM taps u WHERE u.undoes = t.tap)
ORDER BY t.rowid DESC LIMIT 1
"""


@dataclass(frozen=True, slots=True)
class Tap:
    """One tap as a device sends it.

    Attributes:
        name: random name, so that a tap that is sent twice counts once.
        outcome: one of `OUTCOMES`, or `UNDO`.
        eggs: eggs; 1 or more. Of no meaning for `UNDO`.
    """

    name: str
    outcome: str
    eggs: int = 1


@dataclass(frozen=True, slots=True)
class TrayTally:
    """A tray as it stands at the bench.

    Attributes:
        batch: label.
        tray: label.
        pen: label.
        species: key.
        eggs_set: eggs set.
        recorded: outcome -> eggs that the sheet has; what is not recorded is not there.
        drafted: outcome -> eggs tapped and not closed, none left out that is not 0.
        undo: outcome and eggs that this device would take back; None without an own tap.
        devices: devices with a tap in the draft.
    """

    batch: str
    tray: str
    pen: str
    species: str
    eggs_set: int
    recorded: dict[str, int]
    drafted: dict[str, int]
    undo: tuple[str, int] | None
    devices: int

    @property
    def counts(self) -> dict[str, int]:
        """Outcome -> eggs, recorded and drafted together; every outcome."""
        return {name: self.recorded.get(name, 0) + self.drafted.get(name, 0) for name in OUTCOMES}

    @property
    def told(self) -> int:
        """Eggs with an outcome."""
        return sum(self.counts.values())

    @property
    def left(self) -> int:
        """Eggs without one."""
        return self.eggs_set - self.told

    @property
    def is_closed(self) -> bool:
        """Whether the sheet has its hatch and nothing is drafted."""
        return "hatched" in self.recorded and not self.drafted


@dataclass(frozen=True, slots=True)
class BenchBatch:
    """A batch with its trays, as it is offered at the bench.

    Attributes:
        batch: label.
        incubator: the machine it was set in.
        set_on: when it was set.
        pulled_on: when it was taken out, or None.
        trays: its trays, by label.
    """

    batch: str
    incubator: str
    set_on: datetime
    pulled_on: datetime | None
    trays: tuple[TrayTally, ...]

    @property
    def is_done(self) -> bool:
        """Whether it has trays and every one is closed."""
        return bool(self.trays) and all(tray.is_closed for tray in self.trays)

    @property
    def eggs_set(self) -> int:
        """Eggs of all its trays."""
        return sum(tray.eggs_set for tray in self.trays)


def tray_tally(store: Path, batch: str, tray: str, device: str = "") -> TrayTally:
    """One tray as it stands.

    Args:
        store: the store.
        batch: label.
        tray: label.
        device: whose last tap would be taken back; "" = nobody's.

    Raises:
        WrongUsage: there is no such tray that counts.
        StoreError and its kinds: as `reading`.
    """
    with reading(store) as connection:
        return _one_tally(connection, _key(batch, tray), device, (batch, tray))


def bench_batches(store: Path) -> tuple[BenchBatch, ...]:
    """Every batch that counts, with its trays: those with a draft first, then the oldest that is not done.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    with reading(store) as connection:
        trays: dict[str, list[TrayTally]] = {}
        for tray in _tallies(connection, "", ""):
            trays.setdefault(_batch_key(tray.batch), []).append(tray)
        batches = connection.execute(
            "SELECT row_key, batch, incubator, set_on, pulled_on FROM batches WHERE withdrawn_in IS NULL"
        ).fetchall()
    found = [
        BenchBatch(batch, incubator, set_on, pulled_on, tuple(trays.get(key, ())))
        for key, batch, incubator, set_on, pulled_on in batches
    ]
    return tuple(sorted(found, key=_order))


def begun(store: Path) -> tuple[TrayTally, ...]:
    """Trays with a draft that is not closed.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    with reading(store) as connection:
        return tuple(one for one in _tallies(connection, "", "") if one.drafted)


def next_egg_number(store: Path, batch: str, tray: str) -> int:
    """One more than the highest number among the opened eggs of a tray.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    with reading(store) as connection:
        asked = "SELECT coalesce(max(egg), 0) + 1 FROM opened_eggs WHERE starts_with(row_key, ? || '|')"
        return int(connection.execute(asked, [_key(batch, tray)]).fetchall()[0][0])


def tap(store: Path, batch: str, tray: str, device: str, taps: Sequence[Tap]) -> tuple[str, ...]:
    """Keeps taps, or takes own ones back, in one transaction.

    Args:
        store: the store.
        batch: label.
        tray: label.
        device: random name of the phone or computer; not blank.
        taps: in the order in which they were made; one that is kept already is passed over.

    Returns:
        Names of taps that were refused because no egg of the tray is left without an outcome.

    Raises:
        WrongUsage: no such tray, or a tap that cannot be meant.
        StoreError and its kinds: as `writing`.
    """
    for one in taps:
        _refuse_senseless(one, device)
    refused: list[str] = []
    key = _key(batch, tray)
    with writing(store) as connection:
        kept = [_keep_tap(connection, key, (batch, tray), device, one, refused) for one in taps]
        if not any(kept):
            raise LeaveUnchanged
    return tuple(refused)


def close_tray(
    store: Path,
    batch: str,
    tray: str,
    seen: dict[str, int],
    source: str,
    *,
    rest: str = "",
    opened_on: date | None = None,
    pulled_on: str = "",
    why: str = "",
    who: str | None = None,
    today: date | None = None,
) -> LoadReport:
    """Writes a tray's counts into the sheet by the rules of a load, and marks its taps as used.

    Args:
        store: the store.
        batch: label.
        tray: label.
        seen: the drafted eggs that were shown when the word to close was given.
        source: the page or command, for the ledger.
        rest: outcome of all eggs that have none yet; "" = they stay without.
        opened_on: day on which unhatched eggs were opened, where the sheet has none.
        pulled_on: when the batch was taken out, ISO; "" = the batch stays as it is.
        why: why recorded counts change, or "".
        who: name for the ledger, None = the user's.
        today: the day that counts as today, None = the computer's.

    Raises:
        WrongUsage: no such tray, or another device has tapped since.
        LoadRejected: the counts break a rule.
        StoreError and its kinds: as `writing`.
    """
    now = tray_tally(store, batch, tray)
    if now.drafted != seen:
        raise _tapped_since(batch, tray)
    key = _key(batch, tray)

    def use_up(connection: duckdb.DuckDBPyConnection, entry_no: int) -> None:
        if _drafted(connection, key) != seen:
            raise _tapped_since(batch, tray)
        connection.execute(
            "UPDATE taps SET closed_in = ? WHERE row_key = ? AND closed_in IS NULL", [entry_no, key]
        )

    rows = {"trays": [_closed_row(store, now, rest, opened_on)]}
    if pulled_on:
        rows["batches"] = [of_row(store, "batches", (batch,), {"pulled_on": pulled_on})]
    by_hand = ByHand(source, why, use_up)
    return keep_rows(store, rows, by_hand, accept_corrections=True, who=who, today=today)


def _closed_row(store: Path, now: TrayTally, rest: str, opened_on: date | None) -> Cells:
    counts = now.counts
    if rest:
        counts[rest] += now.left
    told = {"hatched": counts["hatched"], **{name: eggs for name, eggs in counts.items() if eggs}}
    row = {name: str(eggs) for name, eggs in told.items()}
    opened = set(told) - {"hatched", "culled", "cracked", "not_opened"}
    if opened_on and opened and not _has_opened_on(store, now):
        row["opened_on"] = opened_on.isoformat()
    return of_row(store, "trays", (now.batch, now.tray), row)


def _has_opened_on(store: Path, now: TrayTally) -> bool:
    with reading(store) as connection:
        asked = "SELECT opened_on IS NOT NULL FROM trays WHERE row_key = ?"
        return bool(connection.execute(asked, [_key(now.batch, now.tray)]).fetchall()[0][0])


def _tapped_since(batch: str, tray: str) -> WrongUsage:
    return WrongUsage(
        f"Tray {tray} of {batch} was tapped on another device just now",
        "A tray is closed with the counts that were shown",
        "Look at the counts and close it again",
    )


def _refuse_senseless(one: Tap, device: str) -> None:
    known = one.outcome in OUTCOMES or one.outcome == UNDO
    if not known or one.eggs < 1 or not device or not one.name or len(one.name) > _LONGEST_NAME:
        raise WrongUsage(
            f"A tap on {one.outcome!r} of {one.eggs} eggs", "A tap is of an outcome of trays", "Tap again"
        )


def _keep_tap(
    connection: duckdb.DuckDBPyConnection,
    key: str,
    parts: tuple[str, str],
    device: str,
    one: Tap,
    refused: list[str],
) -> bool:
    """Keeps one, refused ones too, so that it is not taken up when it is sent again; whether it was new."""
    if connection.execute("SELECT 1 FROM taps WHERE tap = ?", [one.name]).fetchall():
        return False
    outcome, eggs, undoes = one.outcome, one.eggs, None
    if outcome == UNDO:
        last = connection.execute(_LAST_OWN, [key, device]).fetchall()
        undoes, outcome, eggs = (last[0][0], last[0][1], -last[0][2]) if last else (one.name, UNDO, 0)
    elif one.eggs > _one_tally(connection, key, "", parts).left:
        refused.append(one.name)
        undoes, eggs = one.name, 0
    made_at = datetime.now(UTC).replace(tzinfo=None)
    connection.execute(
        "INSERT INTO taps SELECT ?, ?, ?, ?, ?, ?, ?, NULL, change_count + 1 FROM store_meta",
        [one.name, key, outcome, eggs, device, made_at, undoes],
    )
    return True


def _key(batch: str, tray: str) -> str:
    return row_key(BY_NAME["trays"], (batch, tray))


def _batch_key(batch: str) -> str:
    return row_key(BY_NAME["batches"], (batch,))


def _order(batch: BenchBatch) -> tuple[bool, bool, float, str]:
    stamp = batch.set_on.timestamp()
    return (
        not any(tray.drafted for tray in batch.trays),
        batch.is_done,
        -stamp if batch.is_done else stamp,
        batch.batch,
    )


def _one_tally(
    connection: duckdb.DuckDBPyConnection, key: str, device: str, parts: tuple[str, str]
) -> TrayTally:
    found = _tallies(connection, key, device)
    if not found:
        raise WrongUsage(
            f"Tray {parts[1]} of batch {parts[0]}", "There is no such tray that counts", "Choose another"
        )
    return found[0]


def _tallies(connection: duckdb.DuckDBPyConnection, key: str, device: str) -> list[TrayTally]:
    """The trays that count, or one of them, by label."""
    outcomes = ", ".join(f"t.{quoted(name)}" for name in OUTCOMES)
    rows = connection.execute(
        f"SELECT t.row_key, t.batch, t.tray, t.pen, p.species, t.eggs_set, {outcomes} FROM trays t"
        " LEFT JOIN pens p ON lower(nfc_normalize(p.pen)) = lower(nfc_normalize(t.pen))"
        " AND p.withdrawn_in IS NULL"
        " WHERE t.withdrawn_in IS NULL AND ($1 = '' OR t.row_key = $1) ORDER BY t.rowid",
        [key],
    ).fetchall()
    drafts: dict[str, dict[str, int]] = {}
    for row, outcome, eggs, _ in connection.execute(_DRAFT).fetchall():
        drafts.setdefault(row, {})[outcome] = eggs
    devices = dict(
        connection.execute(
            "SELECT row_key, count(DISTINCT device) FROM taps WHERE closed_in IS NULL GROUP BY row_key"
        ).fetchall()
    )
    last = connection.execute(_LAST_OWN, [key, device]).fetchall() if device else []
    undo = (str(last[0][1]), int(last[0][2])) if last else None
    return [
        TrayTally(
            batch,
            tray,
            pen,
            species or "",
            eggs_set,
            {name: eggs for name, eggs in zip(OUTCOMES, counts, strict=True) if eggs is not None},
            _in_order(drafts.get(row, {})),
            undo,
            devices.get(row, 0),
        )
        for row, batch, tray, pen, species, eggs_set, *counts in rows
    ]


def _in_order(eggs: dict[str, int]) -> dict[str, int]:
    return {name: eggs[name] for name in OUTCOMES if name in eggs}


def _drafted(connection: duckdb.DuckDBPyConnection, key: str) -> dict[str, int]:
    return {outcome: eggs for row, outcome, eggs, _ in connection.execute(_DRAFT).fetchall() if row == key}
