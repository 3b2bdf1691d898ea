"""Counts per stratum: the queries against plain loops over the same rows, and the rules one by one."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import fields
from datetime import date, datetime, timedelta
from typing import Any

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.measures.counts import ClusterSums, Families, LadderCounts, Stages
from analytics.options import Selection
from analytics.reference.species import species_table
from analytics.sheets.contract import OUTCOMES
from analytics.store.counts import Span, cluster_sums, lay_out, strata
from analytics.store.migrations import STEPS, run_steps
from analytics.values import Period, Used

Row = dict[str, Any]
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
DEATHS = ("early_dead", "mid_dead", "late_dead", "internal_pip", "external_pip")
STAGES = ("infertile", "clear", "early", "mid", "late", "shell", "unstaged")


# --- the slow twin: one tray at a time, straight from the words of analytics/measures/counts.py ---------


def _key(label: str) -> str:
    return label.strip().lower()


def _outcomes(tray: Row, opened_eggs: list[Row]) -> Row:
    """The tray's outcome columns, None = not recorded, after opened eggs and after adding up."""
    known = {name: tray.get(name) for name in OUTCOMES}
    unhatched = [name for name in OUTCOMES if name not in ("hatched", "culled", "cracked")]
    classes = [
        egg["class"]
        for egg in opened_eggs
        if (_key(egg["batch"]), _key(egg["tray"])) == (_key(tray["batch"]), _key(tray["tray"]))
        and egg["class"] in (*unhatched, "cracked")
    ]
    cracked = classes.count("cracked")
    nothing_counted = all(known[name] is None for name in unhatched)
    hatched = (known["hatched"] or 0) + (known["culled"] or 0)
    if nothing_counted and cracked and known["cracked"] is None and hatched + cracked <= tray["eggs_set"]:
        known["cracked"] = cracked
    classes = [outcome for outcome in classes if outcome != "cracked"]
    room = tray["eggs_set"] - sum(known[name] or 0 for name in ("hatched", "culled", "cracked"))
    if classes and len(classes) <= room and nothing_counted:
        known |= {name: classes.count(name) for name in unhatched}
    if sum(count or 0 for count in known.values()) == tray["eggs_set"]:
        known = {name: count or 0 for name, count in known.items()}
    return known


def _fact(tray: Row, pen: Row, batch: Row, opened_eggs: list[Row]) -> Row:
    known = _outcomes(tray, opened_eggs)
    plain = {name: count or 0 for name, count in known.items()}
    left = tray["eggs_set"] - sum(plain.values())
    fertility_told = known["infertile"] is not None or known["clear"] is not None
    deaths_told = any(known[name] is not None for name in DEATHS)
    unstaged = left if fertility_told and not deaths_told else 0
    adds_up = left == 0
    hatch = known["hatched"] is not None
    fertile = hatch and (adds_up or fertility_told)
    stages = dict(
        zip(
            STAGES,
            (
                plain["infertile"],
                plain["clear"],
                plain["early_dead"],
                plain["mid_dead"],
                plain["late_dead"],
                plain["internal_pip"] + plain["external_pip"],
                unstaged,
            ),
            strict=True,
        )
    )
    return {
        "pen": pen["pen"],
        "species": pen["species"],
        "batch": batch["batch"],
        "eggs_set": tray["eggs_set"],
        "plain": plain,
        "stages": stages,
        "opened": sum(stages.values()),
        "unknown": plain["rotten"] + plain["not_opened"] + left - unstaged,
        "unaccounted": left - unstaged,
        "followed": tray["eggs_set"] - plain["cracked"],
        "families": {
            "hatch": hatch,
            "fertile": fertile,
            "staged": fertile and (adds_up or deaths_told),
            "culled": hatch and (adds_up or known["culled"] is not None),
            "rotten": hatch and (adds_up or known["rotten"] is not None),
        },
    }


def _facts(rows: dict[str, list[Row]]) -> list[Row]:
    """Trays of closed batches with the day of hatch."""
    live = {sheet: [row for row in given if not row.get("withdrawn_in")] for sheet, given in rows.items()}
    pens = {_key(row["pen"]): row for row in live["pens"]}
    batches = {_key(row["batch"]): row for row in live["batches"]}
    by_batch = defaultdict(list)
    for tray in live["trays"]:
        if _key(tray["batch"]) in batches and _key(tray["pen"]) in pens:
            batch = batches[_key(tray["batch"])]
            fact = _fact(tray, pens[_key(tray["pen"])], batch, live["opened_eggs"])
            by_batch[_key(tray["batch"])].append(fact)
    closed = []
    for label, facts in by_batch.items():
        batch = batches[label]
        longest = max(species_table()[fact["species"]].longest_days for fact in facts)
        due = (batch["set_on"] + timedelta(hours=round(longest * 24))).date()
        if batch.get("pulled_on") or all(fact["families"]["hatch"] for fact in facts):
            pulled = batch.get("pulled_on")
            closed += [fact | {"hatch_on": pulled.date() if pulled else due} for fact in facts]
    return closed


def _share(facts: list[Row]) -> None:
    """Adds `shared` stages, `unshared`, and the eggs each opened egg stands for, in one family's trays."""
    pens, cells = defaultdict(list), defaultdict(list)
    for fact in facts:
        fact |= {"shared": dict.fromkeys(STAGES, 0.0), "unshared": 0, "weight": 1.0}
        pens[fact["pen"]].append(fact)
        cells[fact["pen"], fact["batch"]].append(fact)
    for fact in facts:
        cell, pen = cells[fact["pen"], fact["batch"]], pens[fact["pen"]]
        lenders = [fact] if fact["opened"] >= 5 else cell if sum(f["opened"] for f in cell) >= 5 else pen
        told_by = sum(lender["opened"] for lender in lenders)
        if not told_by:
            fact["unshared"] = fact["unknown"]
            continue
        for stage in STAGES:
            part = sum(lender["stages"][stage] for lender in lenders) / told_by
            fact["shared"][stage] = fact["unknown"] * part
        for lender in lenders:
            lender["weight"] += fact["unknown"] / told_by


def _slow_ladder(facts: list[Row], trays: int) -> LadderCounts:
    by_batch = defaultdict(int)
    for fact in facts:
        by_batch[fact["batch"]] += fact["followed"]
    return LadderCounts(
        used=Used(len(facts), len(by_batch), trays - len(facts)),
        eggs_set=sum(fact["eggs_set"] for fact in facts),
        cracked=sum(fact["plain"]["cracked"] for fact in facts),
        hatched=sum(fact["plain"]["hatched"] for fact in facts),
        culled=sum(fact["plain"]["culled"] for fact in facts),
        opened=Stages(*(sum(fact["stages"][stage] for fact in facts) for stage in STAGES)),
        unknown=sum(fact["unknown"] for fact in facts),
        shared=Stages(*(sum(fact["shared"][stage] for fact in facts) for stage in STAGES)),
        unshared=sum(fact["unshared"] for fact in facts),
        opened_squares=sum(fact["opened"] * fact["weight"] ** 2 for fact in facts),
        tray_squares=sum(fact["followed"] ** 2 for fact in facts),
        batch_squares=sum(eggs**2 for eggs in by_batch.values()),
    )


def _slow_families(rows: dict[str, list[Row]], span: Period, keep: Callable[[Row], bool]) -> Families:
    facts = [fact for fact in _facts(rows) if span.contains(fact["hatch_on"])]
    sums = {}
    for family in ("hatch", "fertile", "staged", "culled", "rotten"):
        members = [fact for fact in facts if fact["families"][family]]
        _share(members)
        kept = [dict(fact) for fact in members if keep(fact)]
        sums[family] = _slow_ladder(kept, sum(keep(fact) for fact in facts))
    kept = [fact for fact in facts if keep(fact)]
    rotten = sum(fact["plain"]["rotten"] for fact in kept if fact["families"]["rotten"])
    unaccounted = sum(fact["unaccounted"] for fact in kept if fact["families"]["hatch"])
    return Families(**sums, rotten_eggs=rotten, unaccounted=unaccounted)


def _slow_outcomes(
    rows: dict[str, list[Row]], until: date, measure: str
) -> list[tuple[str, str, float, float]]:
    """(pen, batch, y, n) of each tray that leaves nothing open for the measure."""
    facts = [fact for fact in _facts(rows) if fact["hatch_on"] <= until]
    family = {
        "hatch_of_set": "hatch",
        "saleable_of_set": "hatch",
        "cull_rate": "culled",
        "rotten": "rotten",
        "fertility": "fertile",
        "hatch_of_fertile": "fertile",
    }.get(measure, "staged")
    members = [fact for fact in facts if fact["families"][family]]
    _share(members)
    told = []
    for fact in members:
        plain, stages, shared = fact["plain"], fact["stages"], fact["shared"]
        chicks = plain["hatched"] + plain["culled"]
        whole = {
            "hatch_of_set": (chicks, fact["eggs_set"]),
            "saleable_of_set": (plain["hatched"], fact["eggs_set"]),
            "cull_rate": (plain["culled"], chicks),
            "rotten": (plain["rotten"], fact["eggs_set"]),
        }
        if measure in whole:
            y, n = whole[measure]
        elif stages["clear"] or fact["unknown"] * 10 > fact["followed"] or fact["unshared"]:
            continue
        else:
            fertile = fact["followed"] - stages["infertile"] - shared["infertile"]
            stage = measure.removesuffix("_loss")
            y, n = {"fertility": (fertile, fact["followed"]), "hatch_of_fertile": (chicks, fertile)}.get(
                measure, (stages.get(stage, 0) + shared.get(stage, 0), fertile)
            )
        if n > 1e-9:
            told.append((fact["pen"], fact["batch"], float(y), float(n)))
    return told


def _slow_clusters(told: list[tuple[str, str, float, float]]) -> ClusterSums:
    """The definitions of ClusterSums put in words of one syllable each."""
    n_of, y_of, s2_of = defaultdict(float), defaultdict(float), defaultdict(float)
    for pen, _, y, n in told:
        n_of[pen] += n
        y_of[pen] += y
        s2_of[pen] += n * n
    rate = {pen: y_of[pen] / n_of[pen] for pen in n_of if y_of[pen] > 1e-9 and n_of[pen] - y_of[pen] > 1e-9}
    kept = [
        (pen, batch, n, (y - n * rate[pen]) / math.sqrt(rate[pen] * (1 - rate[pen])))
        for pen, batch, y, n in told
        if pen in rate
    ]
    cell_n, cell_s2, cell_s3 = defaultdict(float), defaultdict(float), defaultdict(float)
    batch_n, batch_z = defaultdict(float), defaultdict(float)
    for pen, batch, n, z in kept:
        cell_n[pen, batch] += n
        cell_s2[pen, batch] += n**2
        cell_s3[pen, batch] += n**3
        batch_n[batch] += n
        batch_z[batch] += z
    meet = {
        (i, j): sum(cell_n.get((i, b), 0) * cell_n.get((j, b), 0) for b in batch_n)
        for i, j in itertools.product(rate, repeat=2)
    }
    squares = sum(z**2 for *_, z in kept)
    return ClusterSums(
        trays=len(kept),
        pens=len(rate),
        batches=len(batch_n),
        dispersion=sum(z**2 / n for _, _, n, z in kept),
        tray_weight=sum((n - 1) * (1 - n / n_of[pen]) for pen, _, n, _ in kept),
        shared_pens=sum((cell_n[cell] ** 2 - cell_s2[cell]) / n_of[cell[0]] for cell in cell_n),
        cross=sum(z**2 for z in batch_z.values()) - squares,
        cross_own=sum(
            2 * (cell_n[c] * cell_s2[c] - cell_s3[c]) / n_of[c[0]]
            - (cell_n[c] ** 2 - cell_s2[c]) * s2_of[c[0]] / n_of[c[0]] ** 2
            for c in cell_n
        ),
        cross_weight=sum(n**2 for n in batch_n.values())
        - 2 * sum(batch_n[c[1]] * cell_n[c] ** 2 / n_of[c[0]] for c in cell_n)
        + sum(meet[i, j] ** 2 / (n_of[i] * n_of[j]) for i, j in meet)
        - sum(
            cell_s2[c] * (1 - 2 * cell_n[c] / n_of[c[0]] + meet[c[0], c[0]] / n_of[c[0]] ** 2) for c in cell_n
        ),
    )


# --- random small stores -----------------------------------------------------------------------------------

PENS = ("Rowan", "Alder", "Hazel")
BATCHES = ("B1", "B2", "B3")


@st.composite
def _trays(draw: st.DrawFn) -> list[Row]:
    trays = []
    for number in range(draw(st.integers(1, 9))):
        counts = draw(st.lists(st.one_of(st.none(), st.integers(0, 6)), min_size=12, max_size=12))
        if draw(st.integers(0, 3)) == 0:
            counts = [count if name in ("hatched", "culled", "cracked") else None for name, count in
                      zip(OUTCOMES, counts, strict=True)]  # fmt: skip
        if draw(st.booleans()) and counts[0] is None:
            counts[0] = draw(st.integers(0, 8))
        left = draw(st.sampled_from((0, 0, 1, 4)))
        known = sum(count or 0 for count in counts)
        trays.append(
            {
                "batch": draw(st.sampled_from(BATCHES)) + draw(st.sampled_from(("", " "))),
                "tray": f"T{number}",
                "pen": draw(st.sampled_from((*PENS, "rowan", "ALDER "))),
                "eggs_set": max(known + left, 1),
                "withdrawn_in": draw(st.sampled_from((None,) * 7 + (2,))),
                **dict(zip(OUTCOMES, counts, strict=True)),
            }
        )
    return trays


@st.composite
def _stores(draw: st.DrawFn) -> dict[str, list[Row]]:
    species = ("coturnix_quail", "coturnix_quail", draw(st.sampled_from(("coturnix_quail", "chicken"))))
    pens = [{"pen": pen, "species": kind} for pen, kind in zip(PENS, species, strict=True)]
    pulled = st.sampled_from(
        (None, *map(datetime.fromisoformat, ("2026-03-02T18:00", "2026-03-31", "2026-04-01")))
    )
    batches = [
        {
            "batch": batch,
            "incubator": "North",
            "set_on": datetime.fromisoformat("2026-02-09T12:00"),
            "pulled_on": draw(pulled),
        }
        for batch in BATCHES
    ]
    trays = draw(_trays())
    eggs = draw(st.lists(st.tuples(st.sampled_from(trays), st.sampled_from(OUTCOMES)), max_size=12))
    opened = [
        {"batch": tray["batch"].lower(), "tray": tray["tray"], "egg": number, "class": outcome}
        for number, (tray, outcome) in enumerate(eggs, start=1)
    ]
    return {"pens": pens, "batches": batches, "trays": trays, "opened_eggs": opened}


@pytest.fixture(scope="module")
def empty_tables() -> Iterator[duckdb.DuckDBPyConnection]:
    connection = duckdb.connect()
    run_steps(connection, STEPS)
    yield connection
    connection.close()


def _fill(
    connection: duckdb.DuckDBPyConnection, rows: dict[str, list[Row]], put_rows: Callable[..., None]
) -> None:
    for sheet, given_rows in rows.items():
        connection.execute(f"DELETE FROM {sheet}")
        put_rows(connection, sheet, given_rows)


def _same(fast: Any, slow: Any, where: str) -> None:
    for field in fields(slow):
        one, other = getattr(fast, field.name), getattr(slow, field.name)
        place = f"{where}.{field.name}"
        if isinstance(other, (int, float)):
            assert one == pytest.approx(other, rel=1e-9, abs=1e-7), place
        else:
            _same(one, other, place)


@settings(max_examples=40, deadline=None)
@given(rows=_stores())
def test_counts_equal_plain_loops(
    rows: dict[str, list[Row]],
    empty_tables: duckdb.DuckDBPyConnection,
    put_rows: Callable[..., None],
) -> None:
    _fill(empty_tables, rows, put_rows)
    lay_out(empty_tables, Selection())
    spans = (MARCH, Period(None, None))
    found = {(s.span, s.species, s.pen): s.families for s in strata(empty_tables, tuple(map(Span, spans)))}
    expected = set()
    for number, span in enumerate(spans):
        for fact in _facts(rows):
            if span.contains(fact["hatch_on"]):
                expected |= {(number, fact["species"], fact["pen"]), (number, fact["species"], "")}
    assert set(found) == expected
    for number, species, pen in expected:
        slow = _slow_families(
            rows, spans[number], lambda f, s=species, p=pen: f["species"] == s and (not p or f["pen"] == p)
        )
        _same(found[number, species, pen], slow, f"{spans[number]} {species} {pen}")


@settings(max_examples=40, deadline=None)
@given(rows=_stores())
def test_cluster_sums_equal_their_definitions(
    rows: dict[str, list[Row]],
    empty_tables: duckdb.DuckDBPyConnection,
    put_rows: Callable[..., None],
) -> None:
    _fill(empty_tables, rows, put_rows)
    lay_out(empty_tables, Selection(pens=("Rowan",)))
    until = date(2026, 3, 31)
    found = cluster_sums(empty_tables, until)
    for measure in MEASURES:
        slow = _slow_clusters(_slow_outcomes(rows, until, measure))
        _same(found.get(measure, ClusterSums()), slow, measure)


MEASURES = (
    "fertility", "hatch_of_set", "saleable_of_set", "cull_rate", "hatch_of_fertile",
    "early_loss", "mid_loss", "late_loss", "shell_loss", "rotten",
)  # fmt: skip
