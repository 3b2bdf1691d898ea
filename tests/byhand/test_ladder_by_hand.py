"""Rates worked out with a pencil, beside what the program says.

Printed examples of the trade, recomputed by hand; the source and whether it was seen stand at each.
"""

from __future__ import annotations

import pytest

from analytics.measures.counts import Families, LadderCounts, Stages
from analytics.measures.intervals import clopper_pearson
from analytics.measures.ladder import rates
from analytics.values import Rate, Used

HALF_A_DIGIT = 0.5e-4 + 1e-9


def _rates(counts: LadderCounts, staged: LadderCounts | None = None) -> dict[str, Rate]:
    return rates(Families(counts, counts, counts if staged is None else staged, counts, counts), {})


def _counted(eggs_set: int, hatched: int, opened: Stages) -> LadderCounts:
    return LadderCounts(
        used=Used(1, 1, 0),
        eggs_set=eggs_set,
        hatched=hatched,
        opened=opened,
        opened_squares=opened.total(),
        tray_squares=eggs_set**2,
        batch_squares=eggs_set**2,
    )


def test_two_thousand_set_with_only_the_infertile_counted() -> None:
    """2000 set, 93 infertile, 1728 hatched: 95.35 % fertile, 90.61 % of fertile, 86.40 % of set.

    A student's exercise seen at second hand. The 179 left over are dead; that they were infertile too
    stays possible, down to a fertility of 1728/2000.
    """
    left_out = LadderCounts(used=Used(0, 0, 1))
    found = _rates(_counted(2000, 1728, Stages(infertile=93, unstaged=179)), left_out)
    assert found["fertility"].value == pytest.approx(0.9535, abs=HALF_A_DIGIT)
    assert found["fertility"].count == 1907
    assert found["hatch_of_fertile"].value == pytest.approx(0.9061, abs=HALF_A_DIGIT)
    assert found["hatch_of_set"].value == pytest.approx(0.8640, abs=HALF_A_DIGIT)
    possible = found["fertility"].possible
    assert possible
    assert (possible.low, possible.high) == (0.864, 0.9535)
    assert (
        found["fertility"].why
        == "179 left over beside the counted infertile are taken as dead, stage not recorded."
    )
    assert found["early_loss"].value is None
    # Wilson by separate calculation: 1728/2000 84.83 to 87.83 %, 1728/1907 89.22 to 91.84 %
    for word, low, high in (("hatch_of_set", 0.8483, 0.8783), ("hatch_of_fertile", 0.8922, 0.9184)):
        limits = found[word].independent
        assert limits
        assert (limits.low, limits.high) == pytest.approx((low, high), abs=HALF_A_DIGIT)


def test_deaths_are_divided_by_the_fertile() -> None:
    """150 set, half of them fertile, 3 dead early: 4 % of fertile, not 2 % (a trade magazine, seen)."""
    found = _rates(_counted(150, 72, Stages(infertile=75, early=3)))
    assert found["fertility"].value == 0.5
    assert found["early_loss"].value == 0.04


@pytest.mark.parametrize(
    ("fertility", "hatch_of_fertile", "hatch_of_set"),
    [(84.92, 79.11, 67.18), (35.58, 39.66, 14.11), (80.75, 58.03, 46.86), (74.33, 69.09, 51.35)],
)
def test_printed_pairs_multiply_to_the_hatch_of_set(
    fertility: float, hatch_of_fertile: float, hatch_of_set: float
) -> None:
    """Quail rates in percent of four groups, Maiduguri, Nigerian J. Anim. Prod. (tables seen)."""
    fertile = round(fertility * 10_000)
    hatched = round(fertile * hatch_of_fertile / 100)
    found = _rates(
        _counted(1_000_000, hatched, Stages(infertile=1_000_000 - fertile, late=fertile - hatched))
    )
    assert found["fertility"].value == pytest.approx(fertility / 100, abs=1e-6)
    assert found["hatch_of_fertile"].value == pytest.approx(hatch_of_fertile / 100, abs=1e-6)
    assert found["hatch_of_set"].value == pytest.approx(hatch_of_set / 100, abs=1e-4)


def test_forty_eight_eggs_of_a_small_flock() -> None:
    """48 set, none infertile, 1 and 2 dead at candling, 4 unpipped, 5 pipped: 75 % of set and of fertile.

    A small flock's notes seen at second hand. Entering by pencil: 48, 47, 45, 41.
    """
    found = _rates(_counted(48, 36, Stages(early=1, mid=2, late=4, shell=5)))
    assert found["hatch_of_set"].value == 0.75
    assert found["hatch_of_fertile"].value == 0.75
    assert found["fertility"].value == 1
    entering = ("early", 1 / 48), ("mid", 2 / 47), ("late", 4 / 45), ("shell", 5 / 41)
    assert [found[f"{stage}_loss_of_entering"].value for stage, _ in entering] == [
        share for _, share in entering
    ]


def test_five_clear_eggs_are_not_called_infertile() -> None:
    """42 set, 5 clear, 8 dead at full term, 29 hatched: 69.05 % of set (small flock's notes, second hand).

    29/37 = 78.38 % is the hatch of fertile only if all five were infertile; if none was, it is 29/42.
    """
    found = _rates(_counted(42, 29, Stages(clear=5, late=8)))
    assert found["hatch_of_set"].value == pytest.approx(0.6905, abs=HALF_A_DIGIT)
    rate = found["hatch_of_fertile"]
    assert rate.value is None
    assert rate.possible
    assert rate.possible.low == pytest.approx(0.6905, abs=HALF_A_DIGIT)
    assert rate.possible.high == pytest.approx(0.7838, abs=HALF_A_DIGIT)
    fertility = found["fertility"].possible
    assert fertility
    assert (fertility.low, fertility.high) == (37 / 42, 1)
    assert found["late_loss_of_entering"].value == 8 / 37


@pytest.mark.parametrize(("count", "eggs", "low", "high"), [(9, 450, 0.9, 3.8), (36, 1800, 1.4, 2.8)])
def test_the_same_share_of_a_small_and_a_large_sample(count: int, eggs: int, low: float, high: float) -> None:
    """2 % of 450 and of 1800 eggs, limits in percent as an article on sampling prints them (seen)."""
    found = clopper_pearson(count, eggs)
    assert (100 * found.low, 100 * found.high) == pytest.approx((low, high), abs=0.05)


def test_ten_of_thirty_opened() -> None:
    """100 set, 70 hatched, 10 of 30 opened, 4 of those infertile.

    4 in 10 of 30 unhatched are 12 infertile: 88 of 100 fertile. Dropping the 20 unopened would give
    76 of 80 = 95 %. All 20 infertile: 76 %; none: 96 %.
    """
    counts = LadderCounts(
        used=Used(1, 1, 0),
        eggs_set=100,
        hatched=70,
        opened=Stages(infertile=4, early=6),
        unknown=20,
        shared=Stages(infertile=8, early=12),
        opened_squares=90,  # each of the 10 opened stands for 3
        tray_squares=10_000,
        batch_squares=10_000,
    )
    found = _rates(counts)
    rate = found["fertility"]
    assert rate.value == pytest.approx(0.88)
    assert rate.possible
    assert (rate.possible.low, rate.possible.high) == (0.76, 0.96)
    # two phases by pencil: unhatched or not is known of 100 eggs, infertile or not of 10 unhatched ones
    # .4**2 x .3 x .7 / 100 + .3**2 x .4 x .6 / 10 = .000336 + .002160; .88 x .12 / .002496 = 42.3 eggs
    assert rate.independent
    width = rate.independent.high - rate.independent.low
    assert width == pytest.approx(2 * 1.96 * 0.002496**0.5, rel=0.05)
    assert found["hatch_of_fertile"].value == pytest.approx(70 / 88)
    assert found["hatch_of_fertile"].possible
    assert found["hatch_of_fertile"].possible.low == 70 / 96
    assert found["hatch_of_fertile"].possible.high == 70 / 76


@pytest.mark.parametrize(
    ("hatched", "early", "mid", "late", "not_kept"),
    [(8160, 1016, 127, 543, 130), (7924, 790, 210, 668, 239)],
)
def test_a_printed_table_of_stored_eggs(hatched: int, early: int, mid: int, late: int, not_kept: int) -> None:
    """Eggs stored 14 days, hens of 29 and of 58 weeks, in percent of fertile.

    Poultry Science 2021, 100:101026, Table 2, seen:
    hatch 81.60 / 79.24, early 10.16 / 7.90, middle 1.27 / 2.10, late 5.43 / 6.68, not kept
    1.30 / 2.39, contaminated 0.23 / 1.68. They add up to 99.99: one egg in 10,000 is lost in rounding.

    The table keeps chicks not kept apart from the hatch, so here they are `culled` and leave the kept share.
    """
    contaminated = 10_000 - 1 - hatched - early - mid - late - not_kept
    counts = LadderCounts(
        used=Used(1, 1, 0),
        eggs_set=9_999,
        hatched=hatched,
        culled=not_kept,
        opened=Stages(early=early, mid=mid, late=late, shell=contaminated),
        opened_squares=early + mid + late + contaminated,
        tray_squares=9_999**2,
        batch_squares=9_999**2,
    )
    found = _rates(counts)
    for word, of_ten_thousand in (("early_loss", early), ("mid_loss", mid), ("late_loss", late)):
        assert found[word].value == pytest.approx(of_ten_thousand / 9_999)
    assert found["hatch_of_fertile"].value == pytest.approx((hatched + not_kept) / 9_999)
    assert found["saleable_of_set"].value == pytest.approx(hatched / 9_999)
    assert contaminated in (23, 168)


@pytest.mark.parametrize(("fewer_turns", "printed"), [(8523, 0.0661), (7633, 0.1551), (7214, 0.1970)])
def test_printed_losses_by_turning(fewer_turns: int, printed: float) -> None:
    """Turned 24, 12, 6 and 3 times a day: 91.84, 85.23, 76.33, 72.14 % of fertile (PMC7598115, seen).

    Printed there as 6.61, 15.51 and 19.70 points lower.
    """
    often, seldom = (
        _rates(_counted(10_000, hatched, Stages(late=10_000 - hatched)))["hatch_of_fertile"].value
        for hatched in (9184, fewer_turns)
    )
    assert often is not None
    assert seldom is not None
    assert often - seldom == pytest.approx(printed, abs=HALF_A_DIGIT)
