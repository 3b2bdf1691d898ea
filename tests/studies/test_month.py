"""The month's review on small stores: what stands beside what, and what is said when there is little."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from analytics.errors import StoreMissing, WrongUsage
from analytics.options import Selection
from analytics.store.counts import counting
from analytics.studies.month import month_review
from analytics.values import Month, Period

Make = Callable[..., Path]
AT = datetime.fromisoformat
PENS = [
    {"pen": "Rowan", "species": "coturnix_quail"},
    {"pen": "Alder", "species": "coturnix_quail"},
    {"pen": "Broody", "species": "chicken"},
]
MARCH, AS_OF = Month(2026, 3), date(2026, 4, 2)


def _batch(name: str, pulled: str, **more: Any) -> dict[str, Any]:
    return {"batch": name, "incubator": "North", "set_on": AT("2025-01-01"), "pulled_on": AT(pulled)} | more


def _tray(batch: str, pen: str, eggs_set: int, hatched: int | None, **more: Any) -> dict[str, Any]:
    left = {} if hatched is None else {"infertile": eggs_set - hatched}
    return {"batch": batch, "tray": pen, "pen": pen, "eggs_set": eggs_set, "hatched": hatched} | left | more


YEAR = [
    _batch("now", "2026-03-31"),
    _batch("last", "2026-02-28"),
    _batch("first", "2025-03-01"),
    _batch("too early", "2025-02-28"),
    _batch("too late", "2026-04-01"),
]
YEAR_TRAYS = [
    _tray("now", "Rowan", 40, 30),
    _tray("now", "Alder", 60, 54),
    _tray("last", "Rowan", 50, 40),
    _tray("first", "Rowan", 30, 6),
    _tray("too early", "Rowan", 99, 1),
    _tray("too late", "Rowan", 98, 2),
]
STILL_IN = {"batch": "B", "incubator": "North", "set_on": AT("2026-03-01")}


def _review(store: Path, month: Month | None = MARCH, **more: Any) -> Any:
    return month_review(store, month, Selection(**more), AS_OF)


def _counts(rate: Any) -> tuple[float, float]:
    return rate.count, rate.eggs


def test_the_month_beside_the_twelve_before(store_of: Make) -> None:
    (quail,) = _review(store_of(pens=PENS, batches=YEAR, trays=YEAR_TRAYS)).species
    assert (quail.species, quail.eggs_set, quail.chicks, quail.batches) == ("coturnix_quail", 100, 84, 1)
    assert _counts(quail.rates["hatch_of_set"]) == (84, 100)
    assert _counts(quail.before["hatch_of_set"]) == (46, 80)
    assert [month for month, _ in quail.months_before] == [MARCH.back(n) for n in range(12, 0, -1)]
    with_eggs = {str(month): rates["hatch_of_set"].eggs for month, rates in quail.months_before if rates}
    assert with_eggs == {"2025-03": 30, "2026-02": 50}


def test_pens_beside_their_own_year(store_of: Make) -> None:
    alder, rowan = _review(store_of(pens=PENS, batches=YEAR, trays=YEAR_TRAYS)).species[0].pens
    assert (rowan.pen, rowan.eggs_set, rowan.chicks) == ("Rowan", 40, 30)
    assert _counts(rowan.rates["hatch_of_set"]) == (30, 40)
    assert _counts(rowan.before["hatch_of_set"]) == (46, 80)
    assert (alder.pen, alder.before) == ("Alder", {})


def test_no_month_given_is_the_last_with_a_hatch(store_of: Make) -> None:
    store = store_of(pens=PENS, batches=YEAR, trays=YEAR_TRAYS)
    review = _review(store, None)
    assert (str(review.month), str(review.months[0]), str(review.months[-1])) == (
        "2026-04",
        "2025-02",
        "2026-04",
    )
    assert str(_review(store, None, pens=("alder",)).month) == "2026-03"


def test_species_stay_apart_most_eggs_first(store_of: Make) -> None:
    trays = [*YEAR_TRAYS, _tray("now", "Broody", 200, 150)]
    chicken, quail = _review(store_of(pens=PENS, batches=YEAR, trays=trays)).species
    assert (chicken.species, chicken.eggs_set, quail.eggs_set) == ("chicken", 200, 100)
    assert _review(store_of(), pens=("Broody",)).species[0].species == "chicken"


def test_pens_stand_in_the_order_in_which_a_reader_looks_for_them(store_of: Make) -> None:
    named = ("Zoe", "Ölberg", "alder", "Oak")
    pens = [{"pen": name, "species": "coturnix_quail"} for name in named]
    trays = [_tray("now", name, 20, 10) for name in named]
    (quail,) = _review(store_of(pens=pens, batches=YEAR, trays=trays)).species
    assert [pen.pen for pen in quail.pens] == ["alder", "Oak", "Ölberg", "Zoe"]


def test_own_aims_go_with_their_species(store_of: Make) -> None:
    aims = [{"species": "coturnix_quail", "measure": "fertility", "target": 0.9}]
    (quail,) = _review(store_of(pens=PENS, batches=YEAR, trays=YEAR_TRAYS, targets=aims)).species
    assert quail.targets == {"fertility": 0.9}


@pytest.mark.parametrize(
    ("before", "words"),
    [
        ((80, 400), "below this month's range; that is a reason to look closer, not yet a finding."),
        ((340, 400), "inside this month's range."),
        ((399, 400), "above this month's range; that is a reason to look closer, not yet a finding."),
    ],
)
def test_headline_says_where_the_year_stands_and_judges_nothing(
    store_of: Make, before: tuple[int, int], words: str
) -> None:
    hatched, eggs = before
    trays = [
        _tray("now", "Rowan", 40, 30),
        _tray("now", "Alder", 60, 54),
        _tray("last", "Rowan", eggs, hatched),
    ]
    said = _review(store_of(pens=PENS, batches=YEAR, trays=trays)).headline
    assert said[0].startswith(
        "Of 100 Coturnix quail eggs set in batches that hatched in March 2026, 84 hatched: 84 % of set ("
    )
    assert said[1].endswith(words)
    assert f" of {eggs} set (" in said[1]
    assert not {"better", "worse", "significant"} & set(" ".join(said).split())


@pytest.mark.parametrize(
    ("asked", "eggs", "hatched", "year"),
    [
        (
            {"pens": ("Rowan",)},
            "40 Coturnix quail eggs of this selection",
            30,
            "(2 of them with a hatch) stand at 58 % of 80 set",
        ),
        (
            {"period": Period(date(2026, 3, 1), None)},
            "100 Coturnix quail eggs of this selection",
            84,
            "hold no hatch of this selection to set it beside.",
        ),
        (
            {"species": ("coturnix_quail",)},
            "100 Coturnix quail eggs",
            84,
            "(2 of them with a hatch) stand at 58 % of 80 set",
        ),
    ],
)
def test_headline_claims_nothing_beyond_the_selection(
    store_of: Make, asked: dict[str, Any], eggs: str, hatched: int, year: str
) -> None:
    said = _review(store_of(pens=PENS, batches=YEAR, trays=YEAR_TRAYS), **asked).headline
    assert said[0].startswith(f"Of {eggs} set in batches that hatched in March 2026, {hatched} hatched:")
    assert year in said[1]


def test_eggs_without_a_hatch_count_are_told_apart(store_of: Make) -> None:
    trays = [_tray("now", "Rowan", 40, 30), _tray("now", "Alder", 11, None)]
    (quail,) = _review(store_of(pens=PENS, batches=YEAR, trays=trays)).species
    assert (quail.eggs_set, quail.eggs_without_hatch) == (51, 11)
    assert [(pen.pen, pen.eggs_set, pen.eggs_without_hatch) for pen in quail.pens] == [
        ("Alder", 11, 11),
        ("Rowan", 40, 0),
    ]


def test_few_eggs_are_said_to_be_few(store_of: Make) -> None:
    few = [_tray("now", "Rowan", 6, 4)]
    said = _review(store_of(pens=PENS, batches=YEAR, trays=few)).headline[0]
    assert "These are few eggs: the range is wide, and the month alone says little." in said


def test_no_hatch_written_down_is_said(store_of: Make) -> None:
    review = _review(store_of(pens=PENS, batches=YEAR, trays=[_tray("now", "Rowan", 6, None)]))
    assert review.headline == (
        "Of 6 Coturnix quail eggs in batches that hatched in March 2026 no hatch is written down.",
    )
    assert review.species[0].rates["hatch_of_set"].value is None


@pytest.mark.parametrize(
    ("sheets", "asked", "said"),
    [
        ({}, {}, ("No batch has hatched yet in these records.",)),
        ({}, {"pens": ("x",)}, ("No batch of this selection has hatched yet in these records.",)),
        (
            {"pens": PENS},
            {"pens": (" rowan ",)},
            ("No batch of this selection has hatched yet in these records.",),
        ),
        (
            {"pens": PENS, "batches": YEAR, "trays": YEAR_TRAYS},
            {"period": Period(date(2025, 1, 1), date(2025, 3, 1))},
            (
                "No batch of this selection hatched in March 2026.",
                "The last month with a hatch is March 2025.",
            ),
        ),
        (
            {"pens": PENS, "batches": [STILL_IN], "trays": [_tray("B", "Rowan", 9, None)]},
            {},
            ("No batch has hatched yet in these records.", "1 batch is still in the machine."),
        ),
    ],
)  # fmt: skip
def test_nothing_hatched(
    store_of: Make, sheets: dict[str, Any], asked: dict[str, Any], said: tuple[str, ...]
) -> None:
    review = _review(store_of(**sheets), **asked)
    assert review.headline == said
    assert not any(species.eggs_set for species in review.species)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"pens": ("Rowen",)}, "Did you mean Rowan?"),
        ({"pens": ("Rowan", "Oak")}, "No pen Oak in these records"),
        ({"species": ("goose",)}, "There are chicken, coturnix_quail"),
        ({"incubators": ("Sout",)}, "Did you mean South?"),
    ],
)
def test_a_filter_that_names_nothing_is_refused(store_of: Make, asked: dict[str, Any], said: str) -> None:
    store = store_of(pens=PENS, incubators=[{"incubator": "South"}], batches=YEAR, trays=YEAR_TRAYS)
    with pytest.raises(WrongUsage, match=re.escape(said)):
        _review(store, **asked)


def test_empty_store_without_a_month_is_todays_month(store_of: Make) -> None:
    review = _review(store_of(), None)
    assert (review.month, review.species, review.months, review.open_batches) == (Month(2026, 4), (), (), ())
    assert review.data_gaps == ()


def test_no_store_is_said(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing):
        _review(tmp_path / "none.duckdb")


@pytest.mark.parametrize(("as_of", "overdue"), [(date(2026, 3, 19), 0), (date(2026, 3, 20), 1)])
def test_overdue_by_the_longest_published_days(store_of: Make, as_of: date, overdue: int) -> None:
    """Set on 1 March; Coturnix take 18.4 days at most (S. Afr. J. Anim. Sci. 35:135, 2005, SEEN)."""
    store = store_of(pens=PENS, batches=[STILL_IN], trays=[_tray("B", "Rowan", 9, None)])
    review = month_review(store, MARCH, Selection(), as_of)
    (inside,) = review.open_batches
    assert (inside.due_from, inside.due_to, inside.overdue_days) == (
        date(2026, 3, 17),
        date(2026, 3, 19),
        overdue,
    )
    late = [gap for gap in review.data_gaps if "past the longest published period" in gap.what]
    assert [gap.where for gap in late] == ([("B",)] if overdue else [])


def test_clustering_comes_from_the_whole_store_not_from_the_filter(store_of: Make) -> None:
    """Alder's trays scatter far more than eggs by themselves; Rowan's range widens with them."""
    batches = [_batch(f"B{n}", "2026-03-20") for n in range(8)]
    calm = [_tray(f"B{n}", "Rowan", 20, 10) for n in range(8)]
    wild = [_tray(f"B{n}", "Alder", 20, 19 if n % 2 else 1) for n in range(8)]
    alone = _review(store_of(pens=PENS, batches=batches, trays=calm)).species[0].pens[0]
    with_counting = store_of(trays=wild)
    beside = _review(with_counting, pens=("Rowan",)).species[0].pens[0]
    narrow, wide = alone.rates["hatch_of_set"], beside.rates["hatch_of_set"]
    assert _counts(narrow) == _counts(wide) == (80, 160)
    assert wide.interval.high - wide.interval.low > 1.5 * (narrow.interval.high - narrow.interval.low)
    with counting(with_counting, Selection()) as connection:
        assert connection.execute("SELECT count(*) FROM chosen").fetchone() == (16,)
