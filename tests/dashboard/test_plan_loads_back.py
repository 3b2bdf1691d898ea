"""From plan to next batch: its sheets load back, and with invented outcomes they tell what was open."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.attribution.terms import terms_of
from analytics.options import Selection
from analytics.reports.plan_json import split_values
from analytics.reports.plan_text import split_text
from analytics.reports.tables import as_csv
from analytics.sheets.load import load
from analytics.studies.breeders import breeders
from analytics.studies.causes import causes
from analytics.studies.causes_data import loss_data
from analytics.studies.plan_records import SplitAnswer, SplitAsked
from analytics.studies.plan_split import plan_split
from dashboard.components import plan_paper
from seed_demo.generate import generate, randomness, write_sheets
from seed_demo.world import MACHINE_APART, PEN_APART, QUAIL, world

Row = dict[str, Any]
FIRST = datetime.fromisoformat("2026-01-05")
WEEKS = 12
PASSING = (0.9, 0.93, 0.97, 0.94, 0.93)
STAGES = ("infertile", "early_dead", "mid_dead", "late_dead", "internal_pip")
PENS = ("Ash", "Elm", "Oak", "Yew")


def _outcomes(random: np.random.Generator, eggs: int) -> dict[str, int]:
    left, found = eggs, {}
    for stage, rate in zip(STAGES, PASSING, strict=True):
        passed = int(random.binomial(left, rate))
        found[stage], left = left - passed, passed
    return {**found, "hatched": left}


def _farm(
    store_of: Callable[..., Path], ways: Mapping[str, tuple[str, str]], days: Mapping[str, float]
) -> Path:
    """Pen -> setter and hatcher, and days of storage; a set of 24 eggs a pen each week."""
    random = np.random.default_rng(11)
    batches, trays = [], []
    for week in range(WEEKS):
        day = FIRST + timedelta(days=7 * week)
        for setter, hatcher in sorted(set(ways.values())):
            name = f"{setter} {hatcher} {week}"
            batches.append({"batch": name, "incubator": setter, "hatcher": hatcher, "set_on": day,
                            "pulled_on": day + timedelta(days=18)})  # fmt: skip
            trays += [
                {"batch": name, "tray": pen, "pen": pen, "eggs_set": 24,
                 "storage_days": days[pen] + week % 2 / 9, **_outcomes(random, 24)}
                for pen, way in ways.items() if way == (setter, hatcher)
            ]  # fmt: skip
    machines = sorted({machine for way in ways.values() for machine in way})
    return store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in ways],
        incubators=[{"incubator": name, "capacity_eggs": 100} for name in machines],
        batches=batches,
        trays=trays,
    )


def _set(store: Path, answer: SplitAnswer, folder: Path, times: int, first: date = date(2026, 4, 6)) -> None:
    """Brings the plan's own sheets in as the next sets, and their hatch in once more."""
    random = np.random.default_rng(12)
    for number in range(times):
        day = first + timedelta(days=7 * number)
        trays = plan_paper.trays_of(answer, day, [])
        for hatched in (False, True):
            batches, rows = plan_paper.batches_sheet(trays, day), plan_paper.trays_sheet(trays, 7)
            if hatched:
                batches = [{**row, "pulled_on": (day + timedelta(days=18)).isoformat()} for row in batches]
                rows = [{**row, **_outcomes(random, int(str(row["eggs_set"])))} for row in rows]
            for name, sheet in (("batches", batches), ("trays", rows)):
                (folder / f"{name}.csv").write_bytes(as_csv(sheet))
            done = load(store, [folder / "batches.csv", folder / "trays.csv"], accept_corrections=hatched)
            assert bool(done.corrected) == hatched


def _open(store: Path) -> set[frozenset[str]]:
    """Pairs that the study of what can be told apart finds together in some step."""
    data, *_ = loss_data(store, Selection(), 0.7)
    trays = data.trays()
    found = set()
    for step in trays.steps:
        terms = terms_of(trays, step)
        found |= {frozenset((meeting.first, meeting.second)) for meeting in terms.apart}
        found |= {frozenset((one.name, other)) for one in terms.covariates for other in one.beside}
    return found


CASES = {
    "setter": (
        {"Ash": ("N", "N"), "Elm": ("N", "N"), "Oak": ("S", "S"), "Yew": ("S", "S")},
        ("pen", "incubator"),
    ),
    "hatcher": (
        {"Ash": ("N", "X"), "Elm": ("N", "X"), "Oak": ("N", "Y"), "Yew": ("N", "Y")},
        ("pen", "hatcher"),
    ),
}


@pytest.mark.parametrize("kind", CASES)
def test_a_split_that_was_loaded_tells_pen_from_machine(
    kind: str, store_of: Callable[..., Path], tmp_path: Path
) -> None:
    ways, factors = CASES[kind]
    store = _farm(store_of, ways, dict(zip(PENS, (2, 4, 6, 8), strict=True)))
    answer = plan_split(store, SplitAsked(7, storage=False), Selection())
    assert frozenset(factors) in _open(store)
    assert answer.plan.all_joined
    assert answer.plan.moved == 12
    assert [(one.kind, one.sets) for one in answer.narrowing] == [(kind, 2)]
    told = split_values(answer)
    assert {lot["hatcher"] for lot in told["lots"]} == {hatcher for _, hatcher in ways.values()}
    assert [(one["now"], one["sets"]) for one in told["narrowing"]] == [(None, 2)]
    (moved,) = (lot for lot in answer.plan.lots if lot.moved)
    where = (
        f"into {moved.machine}" if kind == "setter" else f"into the hatcher {moved.hatcher} at the transfer"
    )
    assert f"Put 12 eggs of {moved.pen} {where}: then" in answer.sentence
    assert f"12 eggs of {moved.pen} {where}" in " ".join(split_text(answer).split())
    _set(store, answer, tmp_path, 1)
    assert frozenset(factors) not in _open(store)


def test_two_lots_that_were_loaded_tell_storage(store_of: Callable[..., Path], tmp_path: Path) -> None:
    ways = dict.fromkeys(PENS, ("N", "N"))
    store = _farm(store_of, ways, dict(zip(PENS, (2, 4, 6, 8), strict=True)))
    answer = plan_split(store, SplitAsked(7), Selection())
    assert frozenset(("storage", "pen")) in _open(store)
    assert answer.storage.beside == ("pen",)
    kept = [lot for lot in answer.plan.lots if lot.stored]
    assert {lot.eggs for lot in kept} == {12}
    assert answer.plan.moved == 0
    assert [one.kind for one in answer.narrowing] == ["storage"]
    trays = plan_paper.trays_sheet(plan_paper.trays_of(answer, date(2026, 4, 6), []), 7)
    assert {row["storage_days"] for row in trays} == {"2", "7", ""}
    assert {lot["storage_days"] for lot in split_values(answer)["lots"]} == {2.0, 7.0, None}
    assert "stored 7 days" in split_text(answer)
    assert answer.sentence.endswith("storage is told apart.")
    _set(store, answer, tmp_path, answer.storage.sets)
    assert frozenset(("storage", "pen")) not in _open(store)


@pytest.mark.slow
def test_losses_do_not_name_it_any_more(store_of: Callable[..., Path], tmp_path: Path) -> None:
    store = _farm(store_of, CASES["setter"][0], dict(zip(PENS, (2, 4, 6, 8), strict=True)))
    for times in range(2):
        (answer,) = causes(store, Selection(), target=0.7).answers
        named = [one for one in answer.cannot_separate if set(one.factors) >= {"pen", "incubator"}]
        assert bool(named) == (times == 0)
        if named:
            _set(store, plan_split(store, SplitAsked(7), Selection()), tmp_path, 1)


@pytest.mark.slow
def test_the_pen_apart_of_the_example_is_told_after_its_split(tmp_path: Path) -> None:
    """One male of the example fails and is replaced; one pen shares its machine with nobody."""
    drawn, store = world(), tmp_path / "demo.duckdb"
    sheets = tmp_path / "sheets"
    write_sheets(generate(drawn, randomness(drawn)), sheets)
    names = ("pens", "birds", "incubators", "batches", "trays", "pen_birds", "changes")
    load(store, [sheets / f"{name}.csv" for name in names])
    quail = Selection(species=(QUAIL,))
    (failing,) = (effect.level for effect in drawn.planted if effect.kind == "male")
    (told,) = breeders(store, quail).answers
    assert [row.standing.name for row in told.rows if row.standing.advice == "replace"] == [failing]
    apart = frozenset(("pen", "incubator"))
    assert apart in _open(store)
    answer = plan_split(store, SplitAsked(7), quail)
    assert answer.plan.all_joined
    (moved,) = (lot for lot in answer.plan.lots if lot.moved)
    assert moved.pen == PEN_APART or moved.machine == MACHINE_APART
    _set(store, answer, tmp_path, 1, date(2026, 11, 2))
    assert apart not in _open(store)
    assert frozenset(("pen", "hatcher")) not in _open(store)
