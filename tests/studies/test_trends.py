"""Trends on small stores: what the slope holds equal, what is said beside it, and when there is none."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import astuple
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.slope import clustered_slope
from analytics.comparisons.slope_records import Slope
from analytics.errors import WrongUsage
from analytics.measures.counts import Families
from analytics.measures.ladder import MEASURES, rates
from analytics.options import Selection
from analytics.studies.trend_axis import share_of_time
from analytics.studies.trend_records import TrendAnswer, TrendSlopes, TrendTests
from analytics.studies.trend_words import BASES, Facts, trend_words
from analytics.studies.trends import ALONG, trend
from analytics.values import Used
from seed_demo.build import build_demo

Make = Callable[..., Path]
Rows = list[dict[str, Any]]
FIRST = datetime.fromisoformat("2026-01-05")
QUAIL = "coturnix_quail"
EGGS = 40


def _pens(**more: Any) -> Rows:
    names = ("Alder", "Birch", "Cedar", "Hazel")
    return [{"pen": name, "species": QUAIL, "males": 1, "females": 4} | more for name in names]


def _batches(count: int = 12, every: int = 14) -> Rows:
    """A batch every fortnight, hatched 18 days after setting."""
    set_on = [FIRST + timedelta(days=every * place) for place in range(count)]
    return [
        {"batch": f"B{place:02}", "incubator": "North", "set_on": day, "pulled_on": day + timedelta(days=18)}
        for place, day in enumerate(set_on)
    ]


def _trays(
    days: Callable[[int, int], float | None], dead: Callable[[int, int], int], batches: int = 12
) -> Rows:
    """A tray of 40 of each of four pens in each batch: 2 infertile, some dead early, the others hatched."""
    return [
        {
            "batch": f"B{batch:02}",
            "tray": pen["pen"],
            "pen": pen["pen"],
            "eggs_set": EGGS,
            "storage_days": days(place, batch),
            "hatched": EGGS - 2 - dead(place, batch),
            "infertile": 2,
            "early_dead": dead(place, batch),
        }
        for batch in range(batches)
        for place, pen in enumerate(_pens())
    ]


def _mixed_days(pen: int, batch: int) -> float:
    return float((3 * pen + 5 * batch) % 11 + 1)


def _noise(pen: int, batch: int) -> int:
    """0 to 3, without a link to the days."""
    return int(np.random.default_rng([pen, batch]).integers(0, 4))


def _store(make: Make, trays: Rows, pens: Rows | None = None, **more: Rows) -> Path:
    return make(pens=pens or _pens(), batches=more.pop("batches", _batches()), trays=trays, **more)


def _asked(store: Path, measure: str = "early_loss", by: Any = "storage", **selection: Any) -> TrendAnswer:
    return trend(store, measure, by, Selection(**selection))


def test_harm_of_storage_is_told_in_points_a_day(store_of: Make) -> None:
    """A dead egg more of 38 for each day of storage: 2.6 points, by construction."""
    trays = _trays(_mixed_days, lambda pen, batch: int(_mixed_days(pen, batch)) + _noise(pen, batch))
    found = _asked(_store(store_of, trays))
    within = found.slopes.within_pens
    assert found.tests.decides == "within_pens"
    assert within.low < 1 / 38 < within.high
    assert within.estimate == pytest.approx(1 / 38, abs=0.004)
    assert found.words.sentence.startswith("Each day of storage goes with 2.")
    assert "points more early loss of fertile (" in found.words.sentence
    assert "within the same pens. As odds: × 1.1" in found.words.sentence
    # At about a fifth lost a day is 2.6 points of .2 x .8: log odds 0.026 / 0.16 = 0.16, a factor 1.18.
    assert within.odds.ratio == pytest.approx(1.18, abs=0.02)
    assert found.slopes.same_batch.low < 1 / 38 < found.slopes.same_batch.high
    assert found.tests.ends == (within,)
    assert found.tests.independent.method.endswith("as if every egg were independent")
    assert (found.base, found.used.trays, found.used.batches) == ("of fertile", 48, 12)


def test_points_are_the_trays_of_three_days_together(store_of: Make) -> None:
    trays = _trays(_mixed_days, _noise)
    found = _asked(_store(store_of, trays))
    assert [point.label for point in found.points] == [
        "0–2 days",
        "3–5 days",
        "6–8 days",
        "9–11 days",
    ]
    second = [tray for tray in trays if 3 <= tray["storage_days"] <= 5]
    point = found.points[1]
    assert point.eggs == sum(EGGS - 2 for _ in second)
    assert point.count == sum(tray["early_dead"] for tray in second)
    assert point.rate == pytest.approx(point.count / point.eggs)
    assert point.x == pytest.approx(np.mean([tray["storage_days"] for tray in second]))
    assert (point.trays, point.batches) == (len(second), len({tray["batch"] for tray in second}))
    assert point.low < point.rate < point.high
    half = 1.96 * math.sqrt(point.rate * (1 - point.rate) / point.eggs)
    assert point.high - point.low > 2 * half  # wider than as many independent eggs
    days = [tray["storage_days"] for tray in trays]
    assert (found.curve[0].x, found.curve[-1].x) == (min(days), max(days))


def test_pens_that_are_always_stored_long_are_told_apart(store_of: Make) -> None:
    """Two pens are stored long and lose more; within a pen storage never varies."""
    trays = _trays(
        lambda pen, _: 9.0 if pen < 2 else 3.0, lambda pen, batch: 8 * (pen < 2) + _noise(pen, batch)
    )
    found = _asked(_store(store_of, trays))
    assert found.slopes.within_pens.estimate is None
    assert found.tests.independent.p_value < 1e-6
    assert found.tests.decides == "between_pens"
    assert found.tests.clustered == found.slopes.between_pens
    assert found.curve == ()
    assert "from pen to pen" in found.words.sentence
    assert any("never varies within a pen" in note for note in found.words.notes)


def test_poor_pens_stored_a_little_longer_raise_no_alarm(store_of: Make) -> None:
    trays = _trays(
        lambda pen, batch: (8.0 if pen < 2 else 2.0) + batch % 3,
        lambda pen, batch: 8 * (pen < 2) + _noise(pen, batch),
    )
    found = _asked(_store(store_of, trays))
    assert found.tests.decides == "within_pens"
    assert found.words.sentence.startswith("No sure trend of early loss of fertile with storage (p = ")
    assert any(note.startswith("As if every egg were independent") for note in found.words.notes)


def test_season_is_told_from_storage_only_within_batches(store_of: Make) -> None:
    trays = _trays(lambda _, batch: float(batch % 6), _noise)
    found = _asked(_store(store_of, trays))
    assert found.slopes.same_batch.estimate is None
    assert any("what sets batches apart is in this slope" in note for note in found.words.notes)


def test_storage_never_written_down(store_of: Make) -> None:
    found = _asked(_store(store_of, _trays(lambda *_: None, _noise)))
    assert found.tests.decides == ""
    assert (found.points, found.curve, found.used.left_out) == ((), (), 48)
    assert "laid_from and laid_to" in found.words.why
    assert "cannot be told here" in found.words.sentence


def test_trays_without_the_number_are_left_out_and_counted(store_of: Make) -> None:
    blank = _trays(lambda pen, batch: None if batch == 4 else _mixed_days(pen, batch), _noise)
    found = _asked(_store(store_of, blank))
    assert (found.used.trays, found.used.left_out) == (44, 4)
    assert "4 trays without a record of storage are left out." in found.words.notes
    assert sum(point.trays for point in found.points) == 44


def test_one_month_is_no_trend_in_time(store_of: Make) -> None:
    store = _store(store_of, _trays(_mixed_days, _noise, 2), batches=_batches(2, every=3))
    found = _asked(store, by="month")
    assert found.tests.decides == ""
    assert found.words.why == "All batches hatched in one month."
    assert [point.label for point in found.points] == ["January 2026"]


def test_months_run_from_the_first_and_carry_the_changes(store_of: Make) -> None:
    changes = [
        {"changed_on": date(2026, 3, 1), "scope": "pen", "target": "birch ", "what": "new male"},
        {"changed_on": date(2026, 4, 1), "scope": "all", "target": None, "what": "lamps"},
        {"changed_on": date(2026, 4, 2), "scope": "incubator", "target": "South", "what": "elsewhere"},
        {"changed_on": date(2030, 4, 2), "scope": "all", "target": None, "what": "much later"},
    ]
    trays = _trays(_mixed_days, lambda pen, batch: batch + _noise(pen, batch))
    store = _store(store_of, trays, changes=changes)
    found = _asked(store, by="month")
    assert found.first_day == date(2026, 1, 1)
    assert [point.label for point in found.points][:2] == ["January 2026", "February 2026"]
    assert [change.what for change in found.changes] == ["new male", "lamps"]
    assert found.changes[0].x == pytest.approx(59 / (365.25 / 12))
    # an egg more of 38 a fortnight
    assert found.slopes.within_pens.estimate == pytest.approx(365.25 / 12 / 14 / 38, rel=0.2)
    assert found.words.sentence.startswith("Early loss of fertile rose by ")
    assert any("cannot tell them apart" in note for note in found.words.notes)
    alder = _asked(store, by="month", pens=("Alder",))
    assert [change.what for change in alder.changes] == ["lamps"]
    assert "within this pen" in alder.words.sentence
    assert _asked(store).changes[0].x is None


def test_hens_of_one_age_are_aliased_with_the_season(store_of: Make) -> None:
    trays = _trays(_mixed_days, _noise)
    found = _asked(_store(store_of, trays, _pens(hens_hatched_on=date(2025, 6, 1))), by="hen_age")
    assert any("hens' age and season cannot be told apart" in note for note in found.words.notes)
    assert found.points[0].label.endswith("weeks")


def test_hens_of_several_ages_still_grow_older_with_the_months(store_of: Make) -> None:
    pens = [pen | {"hens_hatched_on": date(2024, 3 * place + 1, 1)} for place, pen in enumerate(_pens())]
    found = _asked(_store(store_of, _trays(_mixed_days, _noise), pens), by="hen_age")
    assert any(note.startswith("Within a pen hens grow older") for note in found.words.notes)
    assert not any("nearly one age" in note for note in found.words.notes)


def test_hens_without_a_birthday(store_of: Make) -> None:
    found = _asked(_store(store_of, _trays(_mixed_days, _noise)), by="hen_age")
    assert "hens_hatched_on" in found.words.why


def test_males_per_female_between_pens(store_of: Make) -> None:
    pens = [pen | {"females": 3 + place} for place, pen in enumerate(_pens())]
    found = _asked(_store(store_of, _trays(_mixed_days, _noise), pens), by="males_per_female")
    assert [point.x for point in found.points] == pytest.approx([1 / 6, 1 / 5, 1 / 4, 1 / 3])
    assert found.tests.decides == "between_pens"
    assert "male more to ten females" in found.words.sentence
    same = _asked(_store(_renamed(store_of), _trays(_mixed_days, _noise)), by="males_per_female")
    assert same.tests.decides == ""
    assert "the same for all trays" in same.words.why


def _renamed(make: Make) -> Make:
    """A second store in the same folder."""

    def again(**sheets: Rows) -> Path:
        made = Path(make.__closure__[0].cell_contents) / "small.duckdb"  # type: ignore[index]
        made.unlink()
        for leftover in made.parent.glob("small*"):
            leftover.unlink()
        return make(**sheets)

    return again


def _with_clear(trays: Rows) -> Rows:
    """Every third tray has its infertile and four of its early dead written as clear."""
    made = []
    for place, tray in enumerate(trays):
        clear = min(4, tray["early_dead"])
        told_apart = {"clear": 2 + clear, "infertile": None, "early_dead": tray["early_dead"] - clear}
        made.append(tray | (told_apart if place % 3 == 0 else {}))
    return made


def test_clear_eggs_are_decided_at_both_ends(store_of: Make) -> None:
    trays = _with_clear(
        _trays(_mixed_days, lambda pen, batch: int(_mixed_days(pen, batch)) + _noise(pen, batch))
    )
    found = _asked(_store(store_of, trays))
    clear = np.array([tray.get("clear") or 0 for tray in trays], dtype=float)
    dead = np.array([tray["early_dead"] for tray in trays], dtype=float)
    hatched = np.array([tray["hatched"] for tray in trays], dtype=float)
    x, pen, batch = ([tray[name] for tray in trays] for name in ("storage_days", "pen", "batch"))
    twins = [
        clustered_slope(dead + extra, hatched + dead + extra, x, pen, batch).within
        for extra in (0 * clear, clear)
    ]
    for end, twin in zip(found.tests.ends, twins, strict=True):
        assert end.estimate == pytest.approx(twin.estimate, rel=1e-3)
    decided = found.tests.clustered
    assert decided.p_value == max(end.p_value for end in found.tests.ends)
    assert decided.low == min(end.low for end in found.tests.ends)
    assert decided.high == max(end.high for end in found.tests.ends)
    assert any(note.startswith(f"{clear.sum():.0f} clear eggs may be") for note in found.words.notes)
    point = found.points[1]
    assert point.low < point.possible_low < point.rate < point.possible_high < point.high


def test_one_end_alone_calls_nothing(store_of: Make) -> None:
    """Late batches have their early dead written as clear: early loss falls only if those were infertile."""
    trays = _trays(_mixed_days, lambda pen, batch: 6 + _noise(pen, batch))
    for tray in trays:
        if tray["batch"] >= "B06":
            tray |= {"clear": 2 + tray["early_dead"], "infertile": None, "early_dead": 0}
    found = _asked(_store(store_of, trays), by="month")
    infertile, dead = found.tests.ends
    assert infertile.high < 0
    assert dead.estimate > infertile.high
    assert found.tests.clustered.p_value >= 0.05
    assert found.words.sentence.startswith("Clear eggs leave it open: had all ")
    assert "Open clear eggs to decide." in found.words.sentence


def test_fewer_eggs_and_filters(store_of: Make) -> None:
    store = _store(store_of, _trays(_mixed_days, _noise))
    both = _asked(store, pens=("Alder", "Birch"))
    assert both.used.trays == 24
    with pytest.raises(WrongUsage, match="No pen Nobody"):
        _asked(store, pens=("Nobody",))
    with pytest.raises(WrongUsage, match="No species duck"):
        _asked(store, species=("duck",))


def test_all_hatched_and_nothing_hatched(store_of: Make) -> None:
    none_dead = _asked(_store(store_of, _trays(_mixed_days, lambda *_: 0)))
    assert none_dead.tests.decides == ""
    assert "same outcome" in none_dead.words.why
    assert all(point.rate == 0 and point.high > 0 for point in none_dead.points)


def test_what_cannot_be_asked(store_of: Make) -> None:
    store = _store(store_of, _trays(_mixed_days, _noise))
    with pytest.raises(WrongUsage, match="Measures are"):
        _asked(store, "hatchability")
    with pytest.raises(WrongUsage, match="Trends run along"):
        _asked(store, by="moon")


@pytest.mark.parametrize("measure", MEASURES)
def test_every_measure_along_everything_has_a_sentence(store_of: Make, measure: str) -> None:
    pens = [pen | {"hens_hatched_on": date(2025, place + 1, 1)} for place, pen in enumerate(_pens())]
    store = _store(store_of, _trays(_mixed_days, _noise), pens)
    for by in ALONG:
        if measure == "cull_rate":  # culled is blank, but everything adds up
            assert _asked(store, measure, by).words.why
            continue
        found = _asked(store, measure, by)
        assert found.words.sentence.endswith(".")
        assert "nan" not in found.words.sentence
        assert all(math.isfinite(value) for value in _numbers(astuple(found)))


def _numbers(record: Any) -> list[float]:
    if isinstance(record, (tuple, list)):
        return [number for part in record for number in _numbers(part)]
    return [record] if isinstance(record, float) else []


@pytest.mark.slow
def test_storage_harm_planted_in_the_demo_shows(tmp_path: Path) -> None:
    """Planted: 0.12 less log odds of passing early a day, from 0.94-0.95: some 0.6-0.7 points a day."""
    store = tmp_path / "demo.duckdb"
    build_demo(store, 2026)
    found = trend(store, "early_loss", "storage", Selection())
    infertile, dead = found.tests.ends
    assert infertile.p_value < 0.001
    assert infertile.low < 0.0065 < infertile.high
    assert dead.estimate > 0
    assert dead.low < 0.0065 < dead.high
    assert found.words.sentence.startswith(("Each day of storage goes with", "Clear eggs leave it open"))
    fertile = trend(store, "fertility", "storage", Selection())
    assert fertile.tests.clustered.p_value >= 0.05


def test_bases_are_those_of_the_rates() -> None:
    found = rates(Families(), {})
    assert {measure: found[measure].base for measure in MEASURES} == BASES


def test_small_slopes_keep_two_decimals(store_of: Make) -> None:
    """One of 38 fewer dead in the later half of 24 weeks: some 0.2 points a week."""
    pens = _pens(hens_hatched_on=date(2025, 6, 1))
    trays = _trays(_mixed_days, lambda pen, batch: 6 - batch // 6 + _noise(pen, batch) // 2)
    found = _asked(_store(store_of, trays, pens), by="hen_age")
    assert re.search(
        r"goes with 0\.\d\d points less early loss of fertile \(0\.\d\d? to 0\.\d", found.words.sentence
    )


def test_share_of_time_is_one_minus_what_is_left_within_months() -> None:
    days = np.array(["2026-01-05", "2026-01-20", "2026-02-03", "2026-02-20"], dtype="datetime64[D]")
    # means 2 and 6; within 1 + 1 + 1 + 1 of 20 in all
    assert share_of_time(np.array([1.0, 3.0, 5.0, 7.0]), days) == pytest.approx(1 - 4 / 20)


def test_numbers_of_one_sentence_have_the_same_decimals() -> None:
    slope = Slope(-0.0047, -0.0065, -0.0028, 0.001, 40.0, 0.0001, "")
    missing = HypothesisTest.missing("", "")
    tests = TrendTests(missing, "", "within_pens", slope, (slope,), missing)
    facts = Facts("hatch_of_set", "storage", Used(40, 10, 0), 4, 2, 1, 0.0, True, 0.1, 0.7)
    said = trend_words(facts, tests, TrendSlopes(slope, slope, slope))
    # -0.47 points (-0.65 to -0.28): no 0.5 and no 0.6 beside a 0.28
    assert "0.47 points less hatch of set (0.28 to 0.65)" in said.sentence
    assert any("−0.47 points (−0.65 to −0.28)" in note for note in said.notes)
