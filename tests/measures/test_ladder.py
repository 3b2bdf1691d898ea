"""The record of rates: bases, ranges, and the sentence wherever a value is missing."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import replace

import pytest

from analytics.measures.clustering import degrees_of_freedom, design_effect
from analytics.measures.counts import Clustering, Families, LadderCounts, Stages
from analytics.measures.intervals import t_quantile, wilson
from analytics.measures.ladder import ENTERING_MEASURES, MEASURES, UNACCOUNTED, rates
from analytics.values import Base, Interval, Rate, Used

OneTray = Callable[..., LadderCounts]
KNOWN = {measure: Clustering(0.05, 0.02, 0.01, 0.01, False) for measure in MEASURES}


def _all_families(counts: LadderCounts, **more: int) -> Families:
    return Families(counts, counts, counts, counts, counts, **more)


def test_order_and_bases(one_tray: OneTray) -> None:
    found = rates(_all_families(one_tray(70, Stages(10, 0, 8, 2, 5, 5))), KNOWN)
    assert tuple(found) == (*MEASURES, UNACCOUNTED, *ENTERING_MEASURES)
    assert all(rate.measure == word for word, rate in found.items())
    bases = {word: rate.base for word, rate in found.items()}
    assert bases["fertility"] is Base.OF_LADDER
    assert bases["cull_rate"] is Base.OF_HATCHED
    of_set = ("hatch_of_set", "saleable_of_set", "rotten", UNACCOUNTED)
    assert {word for word, base in bases.items() if base is Base.OF_SET} == set(of_set)
    assert {word for word, base in bases.items() if base is Base.OF_ENTERING} == set(ENTERING_MEASURES)


def test_counts_behind_each_rate(one_tray: OneTray) -> None:
    counts = one_tray(60, Stages(10, 0, 8, 2, 5, 5), cracked=4, culled=10)
    found = rates(_all_families(counts, rotten_eggs=3, unaccounted=2), KNOWN)
    pairs = {word: (rate.count, rate.eggs) for word, rate in found.items()}
    assert pairs == {
        "fertility": (90, 100),
        "hatch_of_set": (70, 104),
        "saleable_of_set": (60, 104),
        "cull_rate": (10, 70),
        "hatch_of_fertile": (70, 90),
        "early_loss": (8, 90),
        "mid_loss": (2, 90),
        "late_loss": (5, 90),
        "shell_loss": (5, 90),
        "rotten": (3, 104),
        UNACCOUNTED: (2, 104),
        "early_loss_of_entering": (8, 90),
        "mid_loss_of_entering": (2, 82),
        "late_loss_of_entering": (5, 80),
        "shell_loss_of_entering": (5, 75),
    }
    assert all((rate.eggs_set, rate.clear, rate.used) == (104, 0, Used(1, 1, 0)) for rate in found.values())


@pytest.mark.parametrize(("word", "eggs"), [("hatch_of_fertile", 90), ("hatch_of_set", 100)])
def test_an_interval_that_knows_its_trays(one_tray: OneTray, word: str, eggs: int) -> None:
    counts = one_tray(70, Stages(10, 0, 8, 2, 5, 5))
    rate = rates(_all_families(counts), KNOWN)[word]
    effect = design_effect(counts, eggs, KNOWN[word])
    dof = degrees_of_freedom(counts, eggs, KNOWN[word])
    share = 70 / eggs
    assert effect == pytest.approx(1 + (eggs - 1) * 0.05)
    assert rate.interval
    for limit in (rate.interval.low, rate.interval.high):
        distance = (share - limit) ** 2
        assert distance == pytest.approx(t_quantile(0.95, dof) ** 2 * limit * (1 - limit) * effect / eggs)
    assert rate.independent == wilson(70, eggs)
    assert rate.possible == Interval(share, share, 1.0, "all that clear and unopened eggs leave open")
    assert rate.interval.method == "Wilson, allowing for trays and batches"


def test_without_a_store_the_clustering_is_assumed_and_said(one_tray: OneTray) -> None:
    rate = rates(_all_families(one_tray(70, Stages(10, 0, 20))), {})["fertility"]
    assert rate.interval
    assert "mostly assumed" in rate.interval.method


def test_a_loss_of_entering_takes_the_clustering_of_the_loss(one_tray: OneTray) -> None:
    counts = one_tray(70, Stages(10, 0, 8, 2, 5, 5))
    steep = {**KNOWN, "early_loss": Clustering(0.3, 0.2, 0.01, 0.01, False)}
    found = rates(_all_families(counts), steep)
    assert found["early_loss_of_entering"].interval == found["early_loss"].interval
    assert found["mid_loss_of_entering"].interval != rates(_all_families(counts), {})["mid_loss"].interval


def test_clear_eggs_leave_a_range(one_tray: OneTray) -> None:
    found = rates(_all_families(one_tray(60, Stages(infertile=5, clear=12, early=3, late=20))), KNOWN)
    for word in ("fertility", "hatch_of_fertile", "early_loss", "late_loss", "early_loss_of_entering"):
        rate = found[word]
        assert (rate.value, rate.count, rate.eggs, rate.independent) == (None, None, None, None)
        assert rate.clear == 12
        assert "12 clear eggs" in rate.why
        assert rate.possible
        assert rate.interval
        assert rate.interval.low < rate.possible.low < rate.possible.high < rate.interval.high
    whole, left_open = found["fertility"], "all that clear and unopened eggs leave open"
    assert whole.possible == Interval(0.83, 0.95, 1.0, left_open)
    assert whole.interval
    assert whole.interval.level == 0.95
    assert whole.interval.method == f"Wilson, allowing for trays and batches, and for {left_open}"
    assert (whole.measure, whole.base, whole.eggs_set) == ("fertility", Base.OF_LADDER, 100)
    assert whole.used == Used(1, 1, 0)
    assert found["late_loss_of_entering"].value == 20 / 80
    assert (found["hatch_of_set"].value, found["hatch_of_set"].clear) == (0.6, 12)
    assert found["late_loss_of_entering"].clear == 12


def test_one_clear_egg_is_said_in_the_singular(one_tray: OneTray) -> None:
    rate = rates(_all_families(one_tray(60, Stages(clear=1))), KNOWN)["fertility"]
    assert (
        rate.why == "1 clear egg was not opened to tell infertile from early dead, so there is only a range."
    )


def test_unopened_eggs_of_a_pen_with_clear_ones(one_tray: OneTray) -> None:
    counts = replace(one_tray(60, Stages(late=2), unknown=4), shared=Stages(clear=3, late=1))
    rate = rates(_all_families(counts), KNOWN)["fertility"]
    assert rate.value is None
    assert rate.why == (
        "Unopened eggs may be clear ones, which were not told apart here, so there is only a range."
    )
    less = replace(counts, shared=Stages(clear=0.5, late=3.5))
    assert rates(_all_families(less), KNOWN)["fertility"].why == rate.why


def test_nothing_opened_leaves_a_range(one_tray: OneTray) -> None:
    rate = rates(_all_families(one_tray(60, Stages(), unknown=40)), KNOWN)["fertility"]
    assert rate.value is None
    assert "None of the unhatched eggs was opened" in rate.why
    assert rate.possible
    assert (rate.possible.low, rate.possible.high) == (0.6, 1.0)
    single = rates(_all_families(one_tray(9, Stages(), unknown=1)), KNOWN)["fertility"]
    assert single.why.startswith("The one unhatched egg was not opened")


def test_sharing_is_said(one_tray: OneTray) -> None:
    rate = rates(_all_families(one_tray(70, Stages(infertile=4, early=6), unknown=20)), KNOWN)["fertility"]
    shared = (
        "unhatched eggs are of unknown stage; "
        "they are shared out like the opened ones of the same tray or pen."
    )
    assert rate.why == f"20 of 30 {shared}"
    partly = LadderCounts(
        used=Used(2, 1, 0), eggs_set=17, hatched=10, opened=Stages(infertile=6), unknown=1, unshared=1.0
    )
    assert rates(_all_families(partly), KNOWN)["fertility"].why == (
        f"1 of 7 {shared} Pens without an opened egg follow the others."
    )


def test_no_tray_no_value_and_no_warning() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = rates(Families(), {})
    assert all(_is_missing(rate) for rate in found.values())
    assert all(rate.why == "No tray in this selection." for rate in found.values())
    assert [rate.measure for rate in found.values()] == list(found)
    assert found["fertility"].base is Base.OF_LADDER
    assert found["hatch_of_set"].base is Base.OF_SET


def test_trays_without_the_counts_are_named() -> None:
    left_out = LadderCounts(used=Used(0, 0, 3))
    found = rates(_all_families(left_out), {})
    assert all(_is_missing(rate) for rate in found.values())
    assert found["fertility"].why == (
        "None of the 3 trays has the counts that this needs: hatched, and infertile (or every outcome)."
    )
    assert found["mid_loss"].why.endswith("hatched, infertile and the dead by stage (or every outcome).")
    assert found["cull_rate"].why.endswith("needs: hatched and culled.")
    assert found["rotten"].why.endswith("needs: hatched and rotten (or every outcome).")
    assert found["hatch_of_set"].why.endswith("needs: hatched.")
    alone = rates(_all_families(LadderCounts(used=Used(0, 0, 1))), {})["hatch_of_set"]
    assert alone.why.startswith("The one tray lacks the counts")


def test_all_infertile_has_no_hatch_of_fertile(one_tray: OneTray) -> None:
    found = rates(_all_families(one_tray(0, Stages(infertile=20))), KNOWN)
    assert found["fertility"].value == 0
    assert found["hatch_of_fertile"].why == "No fertile egg in these trays."
    assert found["mid_loss_of_entering"].why == "No egg that came as far as this step in these trays."
    assert found["cull_rate"].why == "No hatched chick in these trays."
    assert all(_is_missing(found[word]) for word in ("hatch_of_fertile", "early_loss", "cull_rate"))


def test_all_opened_infertile_but_some_unknown(one_tray: OneTray) -> None:
    rate = rates(_all_families(one_tray(0, Stages(infertile=20), unknown=3)), KNOWN)["hatch_of_fertile"]
    assert rate.value is None
    assert rate.why == "No fertile egg as far as was opened."
    assert (rate.measure, rate.base) == ("hatch_of_fertile", Base.OF_FERTILE)
    assert rate.possible
    assert (rate.possible.low, rate.possible.high) == (0, 0)


def test_a_tray_without_eggs_is_said() -> None:
    found = rates(_all_families(LadderCounts(used=Used(1, 1, 0))), KNOWN)
    for word in ("hatch_of_set", "saleable_of_set", "rotten", UNACCOUNTED):
        assert found[word].why == "No egg in these trays."


def test_only_cracked_eggs(one_tray: OneTray) -> None:
    found = rates(_all_families(one_tray(0, Stages(), cracked=5)), KNOWN)
    assert found["fertility"].why == "No egg that was not cracked in these trays."
    assert found["hatch_of_set"].value == 0


def test_blank_culled_is_said_where_it_is_taken_as_none(one_tray: OneTray) -> None:
    told = one_tray(90, Stages(10))
    four = replace(told, used=Used(4, 1, 0))
    found = rates(replace(_all_families(four), culled=told), KNOWN)
    assert found["hatch_of_set"].why == "In 3 trays `culled` is blank; no chick of theirs is taken as culled."
    assert found["saleable_of_set"].why == ""
    two = replace(_all_families(replace(told, used=Used(2, 1, 0))), culled=told)
    assert rates(two, KNOWN)["hatch_of_set"].why.startswith("In 1 tray `culled` is blank;")
    assert rates(_all_families(four), KNOWN)["hatch_of_set"].why == ""


def test_unaccounted_is_a_count_and_not_an_estimate(one_tray: OneTray) -> None:
    rate = rates(_all_families(one_tray(90, Stages(10)), unaccounted=7), KNOWN)[UNACCOUNTED]
    assert (rate.count, rate.eggs, rate.value) == (7, 100, 0.07)
    assert rate.interval is None
    assert rate.independent is None


def _is_missing(rate: Rate) -> bool:
    given = (rate.value, rate.count, rate.eggs, rate.interval, rate.possible, rate.independent)
    return bool(rate.why) and all(part is None for part in given)
