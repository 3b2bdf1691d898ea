"""Did the change work, from store to sentence: what is called, what cannot be told, what is left out."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.cli.common import plain
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.reports.changes_json import changes_values
from analytics.reports.changes_text import changes_text
from analytics.studies.changes import NOT_OF_MACHINES, changes
from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer
from analytics.values import Period
from seed_demo.build import build_demo

Make = Callable[..., Path]
Row = dict[str, Any]
PENS = ("Alder", "Birch", "Cedar", "Hazel", "Rowan")
FIRST = datetime.fromisoformat("2026-01-05")
DAY = date(2026, 4, 14)
BATCHES, EGGS = 28, 40


def _records(late: Callable[[str, date], float], alone: str = "") -> dict[str, list[Row]]:
    """A batch a fortnight in each of two machines, a tray of every pen in one of them, laid the week before.

    A pen `alone` has batches of its own in the same machines.
    """
    random = np.random.default_rng(7)
    batches, trays = [], []
    for place in range(BATCHES):
        set_on = FIRST + timedelta(days=14 * (place // 2), hours=9)
        machine = ("North", "South")[place % 2]
        for label, pens in (("B", [pen for pen in PENS if pen != alone]), ("A", [alone] if alone else [])):
            if not pens:
                continue
            batch = {"batch": f"{label}{place:02}", "incubator": machine, "set_on": set_on}
            batches.append(batch | {"pulled_on": set_on + timedelta(days=18)})
            for pen in pens:
                laid = (set_on - timedelta(days=7)).date(), (set_on - timedelta(days=1)).date()
                trays.append(_tray(batch["batch"], pen, laid, late(pen, laid[0]), random))
    return {
        "pens": [{"pen": pen, "species": "coturnix_quail"} for pen in PENS],
        "incubators": [{"incubator": name, "role": "both"} for name in ("North", "South")],
        "batches": batches,
        "trays": trays,
    }


def _tray(batch: str, pen: str, laid: tuple[date, date], late: float, random: np.random.Generator) -> Row:
    fertile = int(random.binomial(EGGS, 0.9))
    past_early = int(random.binomial(fertile, 0.94))
    past_mid = int(random.binomial(past_early, 0.98))
    past_late = int(random.binomial(past_mid, 1 - late))
    hatched = int(random.binomial(past_late, 0.96))
    return {
        "batch": batch, "tray": pen, "pen": pen, "laid_from": laid[0], "laid_to": laid[1], "eggs_set": EGGS,
        "hatched": hatched, "infertile": EGGS - fertile, "early_dead": fertile - past_early,
        "mid_dead": past_early - past_mid, "late_dead": past_mid - past_late,
        "external_pip": past_late - hatched,
    }  # fmt: skip


def _harmed(*pens: str) -> Callable[[str, date], float]:
    """Late losses of 5 %, and of 25 % in these pens from the day of the change."""
    return lambda pen, laid: 0.25 if pen in pens and laid >= DAY else 0.05


def _unharmed(pen: str, laid: date) -> float:
    return 0.05


def _change(target: str | None, what: str = "calcium supplement", scope: str = "pen", day: date = DAY) -> Row:
    return {"changed_on": day, "scope": scope, "target": target, "what": what}


def _only(answer: ChangesAnswer) -> ChangeAnswer:
    (one,) = answer.changes
    return one


def _verdicts(change: ChangeAnswer) -> dict[str, str]:
    return {step.step: step.verdict for step in change.steps}


@pytest.fixture
def supplement(store_of: Make) -> Path:
    """Two pens get a supplement that costs late embryos."""
    return store_of(
        **_records(_harmed("Hazel", "Rowan")),
        changes=[_change("Hazel"), _change(" rowan ", day=DAY + timedelta(days=1))],
    )


def test_harm_is_found_in_its_step_alone_and_told_in_a_sentence(supplement: Path) -> None:
    answer = changes(supplement, Selection())
    one = _only(answer)
    assert (one.event.targets, one.compared.controls) == (("Hazel", "Rowan"), PENS[:3])
    assert one.compared.held == "batch"
    verdicts = _verdicts(one)
    assert verdicts.pop("late") == "worse"
    assert not {"better", "worse"} & set(verdicts.values())
    late = one.steps[3].effect
    low, difference, high, _ = late.known()
    assert low < -0.20 < high < 0, "the true 20 points"
    assert late.odds is not None
    assert late.odds.low < (0.75 / 0.25) / (0.95 / 0.05) < late.odds.high, "the true odds ratio"
    assert one.sentence.startswith(
        "Calcium supplement from 14 April 2026 in Hazel and Rowan: late losses rose by "
    )
    assert one.sentence.endswith(", against 3 pens without it.")
    assert f"{abs(difference) * 100:.0f} points" in one.sentence
    assert answer.sentence == "Of 1 dated change, 1 made something worse."
    assert any("opens most in April" in note or "opens most in May" in note for note in one.notes)


def test_eggs_laid_across_the_day_are_left_out_and_counted(store_of: Make) -> None:
    """Of a change on 10 April the eggs laid from the 6th to the 12th, two batches, lie on both sides.

    Two trays whose days of lay nobody wrote down can be placed nowhere.
    """
    records = _records(_unharmed)
    for tray in records["trays"]:
        if (tray["batch"], tray["tray"]) in (("B00", "Alder"), ("B16", "Rowan")):
            tray["laid_from"] = tray["laid_to"] = None
    store = store_of(**records, changes=[_change("Rowan", day=date(2026, 4, 10))])
    compared = _only(changes(store, Selection())).compared
    assert (compared.left_trays, compared.undated_trays) == (2 * len(PENS), 2)
    assert compared.trays == (BATCHES - 2) * len(PENS) - 2


def test_json_and_text(supplement: Path) -> None:
    answer = changes(supplement, Selection())
    values = json.loads(json.dumps(plain(changes_values(answer)), allow_nan=False))
    (one,) = values["changes"]
    assert (one["changed_on"], one["scope"], one["target"]) == ("2026-04-14", "pen", "Hazel")
    assert one["targets"] == ["Hazel", "Rowan"]
    assert [step["step"] for step in one["steps"]] == ["fertile", "early", "mid", "late", "shell"]
    late = one["steps"][3]
    assert late["verdict"] == "worse"
    assert late["low"] < late["odds_ratio"] < late["high"] < 1
    assert late["difference_low"] < late["difference"] < late["difference_high"] < 0
    assert late["p_value"] <= late["p_adjusted"] < 0.05
    counts = late["sides"]["after"]
    assert late["after"] == pytest.approx(counts["passed"] / counts["eggs"])
    text = changes_text(answer)
    assert text.startswith(answer.sentence)
    assert answer.made_up.dates
    assert "made-up dates the same test" in text


def test_with_every_pen_changed_nothing_is_said(store_of: Make) -> None:
    store = store_of(**_records(_harmed(*PENS)), changes=[_change(pen) for pen in PENS])
    one = _only(changes(store, Selection()))
    assert set(_verdicts(one).values()) == {"cannot_tell"}
    assert all(step.judged.why and step.effect.p_value is None for step in one.steps)
    assert "cannot be told. It touched all pens" in one.sentence
    assert "leave some pens without it" in one.notes[0]
    late = one.steps[3].effect.sides
    assert late.before.rate is not None
    assert late.after.rate is not None
    assert late.before.rate - late.after.rate > 0.1, "the plain rates stand beside it"


def test_what_touches_everything_cannot_be_told(store_of: Make) -> None:
    written = [_change(None, "cellar", "storage"), _change(None, "lamps", "all", DAY + timedelta(days=30))]
    cellar, lamps = changes(store_of(**_records(_harmed(*PENS)), changes=written), Selection()).changes
    assert {*_verdicts(cellar).values(), *_verdicts(lamps).values()} == {"cannot_tell"}
    assert cellar.sentence.startswith("Cellar from 14 April 2026 for all eggs in store: cannot be told.")
    assert lamps.sentence.startswith("Lamps from 14 May 2026 everywhere: cannot be told.")


def test_a_change_of_males_leaves_out_the_days_in_which_the_sire_is_open(store_of: Make) -> None:
    """Quail 10 days: of a change on 17 April, eggs laid 20-26 April are open; those of 4-10 May are not."""
    changed = date(2026, 4, 17)
    store = store_of(**_records(_unharmed), changes=[_change("Rowan", "new male", day=changed)])
    one = _only(changes(store, Selection()))
    assert (one.event.kind, one.event.lag_days) == ("male", 10)
    assert one.compared.left_trays == 2 * len(PENS), "two batches set on 27 April"
    assert one.compared.left_eggs == 2 * len(PENS) * EGGS
    assert any("within 10 days after it" in note for note in one.notes)
    assert not {"better", "worse"} & set(_verdicts(one).values())
    assert any("Only Rowan was changed" in note for note in one.notes)


def test_a_pen_with_batches_of_its_own_is_compared_within_machine_and_month(store_of: Make) -> None:
    store = store_of(**_records(_harmed("Rowan"), alone="Rowan"), changes=[_change("Rowan")])
    one = _only(changes(store, Selection()))
    assert one.compared.held == "machine and month"
    assert _verdicts(one)["late"] == "worse"


def test_a_machine_is_judged_by_the_days_in_it(store_of: Make) -> None:
    """Eggs in a machine on the day are left out; whether an egg was fertile is no machine's doing."""
    records = _records(_unharmed)
    mended = date(2026, 4, 20)
    for tray in records["trays"]:
        place = int(tray["batch"][1:])
        if place % 2 and (FIRST + timedelta(days=14 * (place // 2))).date() >= mended:
            tray["hatched"] -= 9
            tray["late_dead"] += 9
    store = store_of(**records, changes=[_change("south", "new thermostat", "incubator", mended)])
    one = _only(changes(store, Selection()))
    assert (one.event.targets, one.compared.controls) == (("South",), ("North",))
    assert one.compared.left_trays == 2 * len(PENS), "the two batches set on 13 April"
    assert one.steps[0].judged.why == NOT_OF_MACHINES
    assert _verdicts(one)["late"] == "worse"
    assert "against 1 machine without it" in one.sentence
    assert any("Only one machine was left as it was, North" in note for note in one.notes)


def test_another_change_of_a_pen_ends_what_it_can_be_compared_with(store_of: Make) -> None:
    """A control counts only until its own change: from June the other three are no longer untouched.

    Batches 0 to 21 are laid before June; from batch 16 on two pens have had their change.
    """
    later = [_change(pen, "grit", day=date(2026, 6, 1)) for pen in PENS[:3]]
    records = _records(_harmed("Hazel", "Rowan"))
    first, second = changes(
        store_of(**records, changes=[_change("Hazel"), _change("Rowan"), *later]), Selection()
    ).changes
    assert first.compared.trays == 22 * 5 + 6 * 2
    assert second.compared.controls == ("Hazel", "Rowan")
    assert second.compared.trays == 16 * 3 + 12 * 5


def test_an_untouched_pen_that_fails_by_itself_is_no_credit_to_the_change(store_of: Make) -> None:
    """Birch loses half of its eggs late from the day on; the supplement does nothing."""
    late = lambda pen, laid: 0.5 if pen == "Birch" and laid >= DAY else 0.05  # noqa: E731
    store = store_of(**_records(late), changes=[_change("Hazel"), _change("Rowan")])
    one = _only(changes(store, Selection()))
    assert not one.with_verdict("better", "worse")
    assert one.steps[3].judged.p_adjusted < 0.05, "by its p alone it would be called better"
    assert "It hangs on one untouched pen, Birch" in one.steps[3].judged.why
    assert any("not called. It hangs on one untouched pen, Birch" in note for note in one.notes)


def test_filters_choose_changes_and_not_what_they_are_judged_by(supplement: Path) -> None:
    whole = _only(changes(supplement, Selection()))
    assert _only(changes(supplement, Selection(pens=("Rowan",)))) == whole
    for nothing in (Selection(pens=("Birch",)), Selection(Period(DAY + timedelta(days=1), None))):
        with pytest.raises(DataTooThin, match="No change with a date"):
            changes(supplement, nothing)


def test_of_many_trays_those_nearest_to_the_day_are_compared(
    supplement: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """60 trays are 12 batches, six on either side; the third pair before was laid from 9 March on."""
    monkeypatch.setattr("analytics.studies.changes_trays.MOST_TRAYS", 60)
    compared = _only(changes(supplement, Selection())).compared
    assert compared.trays == 60
    assert (compared.first_day, compared.last_day) == (date(2026, 3, 9), date(2026, 5, 24))


def test_without_stages_the_hatch_is_judged(store_of: Make) -> None:
    records = _records(_harmed("Hazel", "Rowan"))
    kept = ("batch", "tray", "pen", "laid_from", "laid_to", "eggs_set", "hatched")
    records["trays"] = [{name: tray[name] for name in kept} for tray in records["trays"]]
    one = _only(changes(store_of(**records, changes=[_change("Hazel"), _change("Rowan")]), Selection()))
    assert _verdicts(one) == {"hatch": "worse"}


@pytest.mark.slow
def test_the_demo_is_told_as_it_was_planted(tmp_path: Path) -> None:
    """Planted: the supplement costs chicks late and in the shell; the feed and the new male do nothing."""
    store = tmp_path / "demo.duckdb"
    build_demo(store)
    answer = changes(store, Selection())
    found = {one.event.what: one for one in answer.changes}
    calcium = found.pop("calcium supplement")
    assert calcium.event.targets == ("Larch", "Rowan")
    assert [step.step for step in calcium.with_verdict("better", "worse")] == ["shell"]
    late = calcium.steps[3].effect
    assert late.odds is not None
    assert late.odds.low < np.exp(-0.6) < late.odds.high
    assert late.known()[2] < 0, "a hint: below none before the number of steps is allowed for"
    assert not [one for one in found.values() if one.with_verdict("better", "worse")]
    assert {one.event.scope for one in answer.changes if not one.tested} == {"storage", "all"}
    assert {pen for pen, _, _ in answer.made_up.called} <= {"Hazel"}, "where a male truly failed"
