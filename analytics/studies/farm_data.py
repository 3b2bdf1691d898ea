"""The strata of a set of farms as the ledger takes them, bounded in number, with what was left aside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analytics.attribution.layout import Flags, Floats
from analytics.attribution.terms import STEPS, Labels, Trays
from analytics.measures.counts import ENOUGH_OPENED
from analytics.store.farm_counts import Connection, FarmsAsked, month_sums, strata_of
from analytics.studies.causes_data import FEW_STAGED, MOST_TRAYS
from analytics.studies.causes_records import HATCH, Scope
from analytics.values import Month

ENOUGH_MONTHS = 12
"""With fewer months than these within the bound, classes of storage are joined (our own choice)."""
OF = ": "
"""Stands between a farm and the name of its pen or machine."""
STAGES = ("infertile", "clear", "early", "mid", "late", "shell")


@dataclass(frozen=True, slots=True)
class Bound:
    """Which strata are learnt from.

    Attributes:
        months: first and last.
        farms: names.
        joined: whether classes of storage are summed.
        older: trays of earlier months left aside.
        other: farms left aside because even one month of all is too much.
    """

    months: tuple[str, str]
    farms: tuple[str, ...]
    joined: bool
    older: int
    other: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FarmStrata:
    """Strata that are learnt from.

    Attributes:
        trays: the strata; their pens, machines and batches carry their farm in their labels, and a batch is
            what was set in one machine for one month.
        farm: of each.
        wanted: whether it is counted.
        bound: how they were chosen.
        sums: word -> array: trays, eggs_set, clear, rotten.
    """

    trays: Trays
    farm: Labels
    wanted: Flags
    bound: Bound
    sums: dict[str, Floats]

    def scope(self, which: Flags, left_out: tuple[int, int] = (0, 0)) -> Scope:
        """What some of the strata hold; batches are not told apart, 0."""
        months, trays = np.unique(self.trays.month[which]), self.trays
        first, last = Month.parse(str(months[0])).period(), Month.parse(str(months[-1])).period()
        assert first.start
        assert last.end
        return Scope(
            first_day=first.start,
            last_day=last.end,
            trays=int(self.sums["trays"][which].sum()),
            batches=0,
            pens=len(np.unique(trays.pen[which])),
            eggs=float(trays.eggs[which].sum()),
            hatched=float(trays.passed[which, -1].sum()),
            left_out=left_out[0],
            left_out_eggs=left_out[1],
            cracked=float((self.sums["eggs_set"] - trays.eggs)[which].sum()),
        )


def farm_strata(connection: Connection, species: str, asked: FarmsAsked) -> FarmStrata:
    """The strata of one species.

    Args:
        connection: with the table `strata`.
        species: key.
        asked: what is counted.
    """
    last = asked.values()["last"]
    bound = bound_of(month_sums(connection, species, last))
    rows = strata_of(connection, species, bound.months, bound.farms, asked, joined=bound.joined)
    known = float(rows["hatch_eggs_set"].sum())
    staged = known > 0 and float(rows["staged_eggs_set"].sum()) >= FEW_STAGED * known
    family = "staged" if staged else "hatch"
    eggs, passed, told = _ladder(rows, family)
    kept = (eggs > 0) & told
    return _strata(rows, family, eggs, passed, kept, bound)


def bound_of(sums: Sequence[dict[str, Any]]) -> Bound:
    """The latest months that hold no more strata than are learnt from; at least one, of the largest farms.

    Args:
        sums: of `month_sums`, not empty.
    """
    months = sorted({row["month"] for row in sums}, reverse=True)
    joined = False
    fits = _fitting(sums, months, "strata")
    if fits < min(ENOUGH_MONTHS, len(months)):
        joined, fits = True, _fitting(sums, months, "joined")
    first = months[max(fits, 1) - 1]
    farms, other = _largest(sums, "joined" if joined else "strata", first) if fits < 1 else (None, ())
    learnt = farms or tuple(sorted({row["farm"] for row in sums}))
    older = sum(row["trays"] for row in sums if row["month"] < first)
    return Bound((first, months[0]), learnt, joined, older, other)


def _fitting(sums: Sequence[dict[str, Any]], months: Sequence[str], which: str) -> int:
    """How many of the months, latest first, hold no more strata together than are learnt from."""
    each = dict.fromkeys(months, 0)
    for row in sums:
        each[row["month"]] += row[which]
    return int((np.cumsum(list(each.values())) <= MOST_TRAYS).sum())


def _largest(
    sums: Sequence[dict[str, Any]], which: str, month: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The farms with most eggs in a month whose strata fit, and the others."""
    order = sorted(
        (row for row in sums if row["month"] == month), key=lambda row: (-row["eggs_set"], row["farm"])
    )
    fits = max(int((np.cumsum([row[which] for row in order]) <= MOST_TRAYS).sum()), 1)
    learnt = tuple(sorted(row["farm"] for row in order[:fits]))
    return learnt, tuple(sorted({row["farm"] for row in sums} - set(learnt)))


def _ladder(rows: dict[str, Any], family: str) -> tuple[Floats, Floats, Flags]:
    """Eggs, eggs that passed each step, and whether the stage of unknown eggs is told.

    Unknown eggs are shared over the stages by the opened eggs of their stratum where these are enough, else
    by those of the pen, else of the farm, else of all.
    """
    eggs, chicks = rows[f"{family}_followed"], rows[f"{family}_chicks"]
    if family == "hatch":
        return eggs, np.minimum(chicks, eggs)[:, None], np.ones(len(eggs), dtype=bool)
    opened = np.column_stack([rows[stage] for stage in STAGES])
    pens = np.char.add(np.char.add(rows["farm"].astype(str), OF), rows["pen"].astype(str))
    by = opened
    for labels in (pens, rows["farm"].astype(str), np.full(len(eggs), "")):
        by = np.where((by.sum(axis=1) >= ENOUGH_OPENED)[:, None], by, _sums_of(labels, opened))
    total = by.sum(axis=1)
    shares = by / np.maximum(total, 1.0)[:, None]
    lost = opened + rows["unknown"][:, None] * shares
    passed = chicks[:, None] + np.cumsum(lost[:, :1:-1], axis=1)[:, ::-1]
    ladder = np.column_stack((passed, chicks))
    return eggs, np.minimum(ladder, eggs[:, None]), (rows["unknown"] == 0) | (total > 0)


def _sums_of(labels: Labels, counts: Floats) -> Floats:
    """For each row the sums over all rows of its label."""
    codes = np.unique(labels, return_inverse=True)[1]
    sums = np.zeros((codes.max() + 1, counts.shape[1]))
    np.add.at(sums, codes, counts)
    return np.asarray(sums[codes])


def _strata(
    rows: dict[str, Any], family: str, eggs: Floats, passed: Floats, kept: Flags, bound: Bound
) -> FarmStrata:
    farm, month = (rows[name].astype(str)[kept] for name in ("farm", "month"))
    names = ("incubator", "hatcher", "pen")
    setter, hatcher, pen = (
        np.char.add(np.char.add(farm, OF), rows[name].astype(str)[kept]) for name in names
    )
    trays = Trays(
        steps=STEPS if family == "staged" else (HATCH,),
        eggs=eggs[kept],
        passed=passed[kept],
        pen=pen,
        setter=setter,
        hatcher=hatcher,
        batch=np.char.add(np.char.add(setter, ", "), month),
        month=month,
        storage_days=_mean(rows["storage_egg_tenths"], rows["storage_eggs"])[kept] / 10,
        hen_weeks=_mean(rows["hen_egg_days"], rows["hen_eggs"])[kept] / 7,
        diets={},
        parents={},
    )
    words = {"trays": f"{family}_trays", "eggs_set": f"{family}_eggs_set", "rotten": f"{family}_rotten"}
    sums = {word: rows[name][kept] for word, name in words.items()}
    sums["clear"] = rows["clear"][kept] if family == "staged" else np.zeros(int(kept.sum()))
    return FarmStrata(trays, farm, rows["wanted"].astype(bool)[kept], bound, sums)


def _mean(sums: Floats, eggs: Floats) -> Floats:
    """NaN where nothing is recorded."""
    return np.asarray(np.where(eggs > 0, sums / np.maximum(eggs, 1.0), np.nan))
