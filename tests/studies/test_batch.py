"""One batch: counts with their ranges, candidates, what to look at, and what it does not claim to tell."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from statsmodels.stats.proportion import proportion_confint

from analytics.studies.batch import batches, one_batch
from analytics.studies.batch_records import BatchAnswer

Make = Callable[..., Path]
AT = datetime.fromisoformat
TODAY = date(2026, 4, 1)
SET_ON, PULLED_ON = AT("2026-03-01T18:00"), AT("2026-03-20T08:00")


def _store(make: Make, *trays: dict[str, Any], species: str = "coturnix_quail", **sheets: Any) -> Path:
    batch = {"batch": "First", "incubator": "Shelf", "set_on": SET_ON, "pulled_on": PULLED_ON}
    return make(
        pens=sheets.pop("pens", [{"pen": "Rowan", "species": species}]),
        incubators=sheets.pop("incubators", [{"incubator": "Shelf"}]),
        batches=sheets.pop("batches", [batch]),
        trays=[{"batch": "First", "tray": str(n), "pen": "Rowan"} | tray for n, tray in enumerate(trays)],
        **sheets,
    )


def _first(make: Make, *trays: dict[str, Any], **sheets: Any) -> BatchAnswer:
    return one_batch(_store(make, *trays, **sheets), "first", TODAY)


def _all_words(answer: BatchAnswer) -> str:
    words = answer.words
    advice = [line for one in (*answer.look_now, *answer.record_next) for line in (one.what, one.why)]
    signs = [line for one in answer.signs for line in (one.sentence, *(c.cause for c in one.candidates))]
    lines = [*words.sentences, *words.warnings, *words.cannot_tell, *words.made, *answer.hours.sentences]
    return " ".join([*lines, *advice, *signs])


# Wilson's interval in print: Newcombe 1998, Stat. Med. 17:857-872, table I (MEMORY)
@pytest.mark.parametrize(("count", "eggs", "low", "high"), [(15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611)])
def test_the_range_of_the_hatch_is_the_published_one(
    store_of: Make, count: int, eggs: int, low: float, high: float
) -> None:
    (quail,) = _first(store_of, {"eggs_set": eggs, "hatched": count}).species
    assert quail.hatch
    assert (quail.hatch.interval.low, quail.hatch.interval.high) == pytest.approx((low, high), abs=6e-5)


def test_twelve_of_32_without_development_is_a_wide_range(store_of: Make) -> None:
    answer = _first(store_of, {"eggs_set": 32, "hatched": 18, "culled": 2, "infertile": 5, "clear": 7})
    without = answer.species[0].without
    assert without
    low, high = proportion_confint(12, 32, method="wilson")  # another program's: statsmodels
    assert (without.interval.low, without.interval.high) == pytest.approx((low, high))
    assert without.left_open == 0
    said = " ".join(answer.words.sentences)
    assert "20 hatched: 63 % of set (45–77 %)" in said
    assert "12 showed no development (5 infertile when opened, 7 clear): 38 % of set (23–55 %)" in said
    assert "Clear eggs may be infertile or dead very early" in said
    assert "These are few eggs" in said
    assert "One hatch cannot say whose loss that was" in said


def test_clear_eggs_are_left_open_to_infertile_and_to_early_dead(store_of: Make) -> None:
    answer = _first(store_of, {"eggs_set": 32, "hatched": 20, "infertile": 5, "clear": 4, "early_dead": 3})
    shares = {fate.fate: fate.share for fate in answer.species[0].fates}
    assert shares["early"].left_open == shares["infertile"].left_open == 4
    assert shares["early"].interval.low == pytest.approx(proportion_confint(3, 32, method="wilson")[0])
    assert shares["early"].interval.high == pytest.approx(proportion_confint(7, 32, method="wilson")[1])
    assert (shares["clear"].left_open, shares["hatched"].left_open) == (0, 0)


def test_only_hatched_is_known(store_of: Make) -> None:
    answer = _first(store_of, {"eggs_set": 32, "hatched": 20})
    assert {fate.fate: fate.share.count for fate in answer.species[0].fates} == {
        "hatched": 20,
        "unaccounted": 12,
    }
    assert answer.signs == ()
    looked = " ".join(one.what for one in answer.look_now)
    for asked in (
        "Open the 12 eggs that did not hatch", "10 fresh eggs of pen Rowan", "males and females of Rowan",
        "thermometer you trust", "how many days these eggs lay",
    ):  # fmt: skip
        assert asked in looked
    sheets = " ".join(one.where for one in answer.record_next)
    for sheet in ("trays:", "batches:", "hatch_counts:", "checks:", "pens:", "incubators:"):
        assert sheet in sheets
    assert "another machine" in answer.record_next[0].what
    open_still = " ".join(answer.words.cannot_tell)
    for open_question in (
        "the birds or the machine",
        "12 unopened eggs",
        "early or late",
        "storage",
        "chance",
    ):
        assert open_question in open_still
    assert "Salmonella" in " ".join(answer.words.cautions)


def test_what_is_recorded_is_not_asked_for_again(store_of: Make) -> None:
    tray = {"eggs_set": 32, "hatched": 20, "culled": 0, "infertile": 12, "clear": 0, "early_dead": 0,
            "mid_dead": 0, "late_dead": 0, "internal_pip": 0, "external_pip": 0, "rotten": 0, "cracked": 0,
            "not_opened": 0, "storage_days": 3, "tare_g": 100, "weight_set_g": 500,
            "weight_transfer_g": 460}  # fmt: skip
    hens = {"males": 4, "females": 8, "hens_hatched_on": date(2025, 8, 1)}
    answer = _first(
        store_of,
        tray,
        pens=[
            {"pen": "Rowan", "species": "coturnix_quail", **hens},
            {"pen": "Alder", "species": "coturnix_quail"},
        ],
        incubators=[{"incubator": "Shelf"}, {"incubator": "Cupboard"}],
        checks=[{"incubator": "Shelf", "at": SET_ON, "displayed_c": 37.6, "reference_c": 37.5}],
        fresh_eggs=[{"pen": "Rowan", "opened_on": date(2026, 3, 2), "eggs": 10, "fertile": 6}],
        hatch_counts=[{"batch": "First", "counted_at": PULLED_ON, "out_so_far": 20}],
    )
    assert answer.look_now == ()
    assert [one.what[:60] for one in answer.record_next] == [
        "Set half of the eggs of pen Rowan in another machine in the ",
        "Give the eggs of the first laying days and those of the last",
    ]
    assert [sign.sign for sign in answer.signs] == ["infertile"]
    assert {one.group for one in answer.signs[0].candidates} == {"flock"}
    assert answer.hours.window


def test_many_hens_to_a_male_are_held_against_the_published_ratio(store_of: Make) -> None:
    hens = {"males": 1, "females": 6}
    store = {"pens": [{"pen": "Rowan", "species": "coturnix_quail", **hens}]}
    answer = _first(store_of, {"eggs_set": 30, "hatched": 10, "infertile": 20}, **store)
    (ratio,) = [one for one in answer.look_now if "males of Rowan (6)" in one.what]
    assert "best 1:2 to 1:3, Ipek and others 2004" in ratio.why


def test_published_figures_stand_beside_shares_of_the_same_base(store_of: Make) -> None:
    answer = _first(
        store_of, {"eggs_set": 100, "hatched": 45, "culled": 0, "infertile": 10, "early_dead": 45}
    )
    rows = {(row.measure, row.as_printed): row for row in answer.species[0].published}
    of_set, of_fertile = rows["hatch_of_set", "77 % of set"], rows["hatch_of_fertile", "69.09 % of fertile"]
    assert (of_set.base, of_set.own, of_set.stands) == ("of set", 0.45, "below")
    assert (of_fertile.base, of_fertile.own) == ("of fertile", 0.5)
    assert rows["early_loss", "10.25 % of fertile"].stands == "above"


def test_a_bird_without_published_rates_is_told_so(store_of: Make) -> None:
    (goose,) = _first(store_of, {"eggs_set": 12, "hatched": 6}, species="goose").species
    assert goose.published == ()
    assert "No published share" in goose.published_note


def test_a_batch_in_the_machine_says_what_is_due(store_of: Make) -> None:
    batch = {"batch": "First", "incubator": "Shelf", "set_on": AT("2026-03-25T18:00")}
    store = _store(store_of, {"eggs_set": 32, "storage_days": 7}, batches=[batch])
    answer = one_batch(store, "First", TODAY)
    assert (answer.state, answer.look_now, answer.signs) == ("in_machine", (), ())
    days = {due.what: (due.first, due.last, due.state) for due in answer.due}
    # UC ANR 8134 (seen): days 5-7; chart (seen second hand): transfer on day 15; hatch day 16 at the earliest
    assert days["candling"] == (date(2026, 3, 30), date(2026, 4, 1), "now")
    assert days["transfer"] == (date(2026, 4, 9), date(2026, 4, 9), "ahead")
    assert days["hatch"][0] == date(2026, 4, 10)
    # longest published 18.38 days, and 7 days of storage add 12 h at most (486 to 498 h, Turk. J. Vet., seen)
    last = datetime.fromisoformat("2026-03-25T18:00") + timedelta(days=18.38, hours=12)
    assert days["hatch"][1] == last.date()
    assert one_batch(store, "First", date(2026, 4, 20)).state == "overdue"


def test_where_every_egg_hatched_there_is_nothing_to_look_for(store_of: Make) -> None:
    answer = _first(store_of, {"eggs_set": 6, "hatched": 5, "culled": 1})
    assert (answer.look_now, answer.signs) == ((), ())
    assert "6 hatched: 100 % of set (61–100 %)" in answer.words.sentences[0]
    assert "Every egg hatched. One hatch cannot promise the next." in answer.words.sentences
    assert not any("birds or the machine" in line for line in answer.words.cannot_tell)


def test_a_mixed_batch_is_warned_of_and_its_hours_are_not_read(store_of: Make) -> None:
    answer = _first(
        store_of,
        {"eggs_set": 20, "hatched": 15},
        {"eggs_set": 10, "hatched": 4, "pen": "Broody"},
        pens=[{"pen": "Rowan", "species": "coturnix_quail"}, {"pen": "Broody", "species": "chicken"}],
    )
    assert [(one.species, one.eggs) for one in answer.species] == [("coturnix_quail", 20), ("chicken", 10)]
    assert "were set together" in answer.words.warnings[0]
    assert answer.hours.expected is None


@pytest.mark.parametrize(("hours", "stands"), [(350, "early"), (411, "inside"), (520, "late")])
def test_hours_are_called_early_or_late_only_outside_all_published_ones(
    store_of: Make, hours: int, stands: str
) -> None:
    counts = [
        {"batch": "First", "counted_at": SET_ON + timedelta(hours=hours + step), "out_so_far": out}
        for step, out in ((-24, 0), (-12, 2), (-6, 8), (0, 20), (6, 32), (12, 38), (24, 40))
    ]
    answer = _first(store_of, {"eggs_set": 50, "hatched": 40, "storage_days": 2}, hatch_counts=counts)
    assert answer.hours.window
    assert answer.hours.window.median == pytest.approx(hours, abs=2)
    assert answer.hours.stands == stands
    assert [sign.sign for sign in answer.signs] == ([] if stands == "inside" else [f"{stands}_hatch"])


def test_what_the_records_say_of_a_candidate_goes_with_it(store_of: Make) -> None:
    names = ["First", *(f"before {month}" for month in range(4, 10))]
    days = [SET_ON, *(AT(f"2025-{month:02}-01") for month in range(4, 10))]
    counted = {"mid_dead": 0, "late_dead": 0, "internal_pip": 0, "external_pip": 0, "infertile": 2}
    answer = _first(
        store_of,
        *({"batch": name, "eggs_set": 60, "hatched": 38 if name == "First" else 56,
           "early_dead": 20 if name == "First" else 2,
           "storage_days": 14 if name == "First" else 3 + place % 2, **counted}
          for place, name in enumerate(names)),
        batches=[{"batch": name, "incubator": "Shelf", "set_on": day, "pulled_on": day + timedelta(days=19)}
                 for name, day in zip(names, days, strict=True)],
    )  # fmt: skip
    early = next(sign for sign in answer.signs if sign.sign == "dead_first_week")
    assert early.candidates[0].cause == "stored long"
    assert early.candidates[0].group == "handling"
    assert any("14.0 days" in line for line in early.candidates[0].for_)
    assert all(not one.for_ for one in early.candidates[1:] if one.group == "flock")


def test_other_batches_stand_beside_it_as_counted(store_of: Make) -> None:
    dates = {"set_on": AT("2026-02-01"), "pulled_on": AT("2026-02-20")}
    both = [{"batch": "First", "incubator": "Shelf", "set_on": SET_ON, "pulled_on": PULLED_ON},
            {"batch": "Second", "incubator": "Shelf", **dates}]  # fmt: skip
    answer = _first(
        store_of,
        {"eggs_set": 32, "hatched": 20},
        {"batch": "Second", "eggs_set": 40, "hatched": 30},
        batches=both,
    )
    assert {(one.kind, one.chicks, one.eggs) for one in answer.others} == {
        (kind, 30, 40) for kind in ("farm", "incubator", "pen")
    }
    assert "Your other batches in Shelf (1) hatched 75 % of 40 eggs set." in answer.words.sentences


def test_no_verdict_in_words(store_of: Make) -> None:
    tray = {"eggs_set": 60, "hatched": 20, "infertile": 5, "clear": 5, "early_dead": 5, "mid_dead": 5,
            "late_dead": 5, "external_pip": 5, "rotten": 5, "not_opened": 5}  # fmt: skip
    answer = _first(store_of, tray)
    assert len(answer.signs) == 7
    said = _all_words(answer).lower()
    assert not re.search(r"significan|finding|p-value|proves|because of", said)


def test_nothing_out_nothing_in(store_of: Make) -> None:
    blank = {"batch": "First", "incubator": "Shelf", "set_on": SET_ON, "pulled_on": PULLED_ON}
    store = _store(store_of, {"eggs_set": 9}, batches=[blank, {**blank, "batch": "Bare", "pulled_on": None}])
    assert one_batch(store, "First", TODAY).state == "not_counted"
    assert one_batch(store, "Bare", TODAY).state == "empty"
    assert [name.batch for name in batches(store)] == ["First", "Bare"]
