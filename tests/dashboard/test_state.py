"""Filters and the link: what is written is read back, and a stranger's link is answered in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.values import Month, Period
from dashboard import state, words
from dashboard.state import Filters, Known

KNOWN = Known(
    months=(Month(2026, 1), Month(2026, 3)),
    species=("chicken", "coturnix_quail"),
    pens=("Barn 1", "Barn 2", "R&D = 100 %?", "Älv"),
    incubators=("North", "South"),
    lines=("golden", "white & wild"),
)


def _some(labels: tuple[str, ...]) -> st.SearchStrategy[tuple[str, ...]]:
    return st.lists(st.sampled_from(labels), unique=True).map(tuple)


PERIODS = st.sampled_from([("", ""), ("2026-01", ""), ("", "2026-03"), ("2026-01", "2026-03")])


@st.composite
def _filters(draw: st.DrawFn) -> Filters:
    by = draw(st.sampled_from(state.BY))
    start, end = draw(PERIODS)
    two = (*draw(st.permutations(KNOWN.labels(by)))[: draw(st.integers(0, 2))], "", "")
    return Filters(
        draw(st.sampled_from(["", "2026-01", "2026-03"])),
        draw(_some(KNOWN.species)),
        draw(_some(KNOWN.pens)),
        draw(_some(KNOWN.incubators)),
        draw(st.sampled_from(sorted(words.MEANINGS))),
        start,
        end,
        by,
        two[0],
        two[1],
        draw(st.sampled_from(state.ALONG)),
        draw(st.sampled_from(["", *KNOWN.species])),
        draw(st.sampled_from([None, 1.0, 62.5, 75.0, 100.0])),
        draw(st.sampled_from(state.STRIPES)),
    )


@given(_filters())
def test_what_is_written_is_read_back(filters: Filters) -> None:
    assert state.read(state.write(filters), KNOWN) == (filters, ())
    assert state.still_known(filters, KNOWN) == replace(filters, month=filters.month or "2026-03")


@given(_filters(), _filters())
def test_a_page_writes_and_takes_its_own_fields_only(kept: Filters, filters: Filters) -> None:
    link = state.write(filters, state.PENS_FIELDS)
    assert set(link) <= set(state.PENS_FIELDS)
    found = state.merged(kept, state.read(link, KNOWN)[0], state.PENS_FIELDS)
    others = ("month", "along", "bird", "target", "stripes")
    assert found == replace(filters, **{name: getattr(kept, name) for name in others})


@given(st.dictionaries(st.sampled_from([*state.FIELDS, "x"]), st.lists(st.text(max_size=200), max_size=80)))
def test_a_strangers_link_gives_known_values_only(link: dict[str, list[str]]) -> None:
    filters, said = state.read(link, KNOWN)
    assert set(filters.species) <= set(KNOWN.species)
    assert set(filters.pens) <= set(KNOWN.pens)
    assert set(filters.incubators) <= set(KNOWN.incubators)
    assert filters.month in ("", "2026-01", "2026-03")
    assert filters.measure in words.MEANINGS
    assert {filters.start, filters.end} <= {"", "2026-01", "2026-03"}
    assert not filters.end or filters.start <= filters.end
    assert {filters.first, filters.second} <= {"", *KNOWN.labels(filters.by)}
    assert not filters.first or filters.first != filters.second
    assert len(said) <= 2 * len(state.FIELDS)
    assert all(len(line) < 400 and line.isprintable() for line in said)


def test_labels_are_found_without_case_and_outer_blanks() -> None:
    filters, said = state.read({"pen": [" barn 1 ", "BARN 1", "älv"]}, KNOWN)
    assert filters.pens == ("Barn 1", "Älv")
    assert said == ()


def test_every_unknown_value_is_answered_in_words() -> None:
    link = {
        "month": ["2026-02"],
        "species": ["dodo"],
        "pen": ["'; DROP TABLE pens; --", "<script>alert(1)</script>", "b\n2", "Barn 2"],
        "incubator": ["../../etc/passwd"],
        "measure": ["__class__"],
        "from": ["2026-02-30"],
        "to": ["doomsday"],
        "by": ["colour"],
        "first": ["Barn 9"],
        "second": ["golden"],
        "along": ["the moon"],
    }
    filters, said = state.read(link, KNOWN)
    assert filters == Filters(pens=("Barn 2",))
    text = " ".join(said)
    for part in (
        "2026-02",
        "dodo",
        "DROP TABLE",
        "<script>",
        "b 2",
        "passwd",
        "__class__",
        "2026-02-30",
        "doomsday",
        "colour",
        "Barn 9",
        "golden",
        "the moon",
    ):
        assert part in text


def test_a_month_that_cannot_be_one_is_answered_in_words() -> None:
    for given_month in ("2026-13", "March", "9" * 5000, "2026-03-01"):
        filters, said = state.read({"month": [given_month]}, KNOWN)
        assert filters.month == ""
        assert len(said) == 1
        assert "The last month is shown" in said[0]


def test_very_many_values_are_not_all_read() -> None:
    filters, said = state.read({"pen": [f"pen {n}" for n in range(100_000)] + ["Barn 1"]}, KNOWN)
    assert filters.pens == ()
    assert any(str(state.MOST) in line for line in said)


def test_a_period_that_runs_backwards_is_let_go() -> None:
    filters, said = state.read({"from": ["2026-03"], "to": ["2026-01"]}, KNOWN)
    assert (filters.start, filters.end) == ("", "")
    assert ["backwards" in line for line in said] == [True]


def test_one_is_never_set_beside_itself() -> None:
    filters, said = state.read({"first": ["Barn 1"], "second": ["barn 1"]}, KNOWN)
    assert (filters.first, filters.second, filters.pair) == ("Barn 1", "", None)
    assert ["beside itself" in line for line in said] == [True]


def test_lines_are_no_choice_where_none_is_recorded() -> None:
    bare = replace(KNOWN, lines=())
    filters, said = state.read({"by": ["line"]}, bare)
    assert (filters.by, len(said)) == ("pen", 1)
    assert state.still_known(Filters(by="line", first="golden"), bare) == Filters("2026-03")


def test_what_the_records_lost_is_let_go() -> None:
    kept = Filters("2025-01", ("duck", "chicken"), ("Gone", "Barn 2"), ("South",))
    assert state.still_known(kept, KNOWN) == Filters("2026-03", ("chicken",), ("Barn 2",), ("South",))


def test_the_period_is_whole_months() -> None:
    period = Filters(start="2026-02", end="2026-02").in_period().period
    assert (period.start, period.end) == (date(2026, 2, 1), date(2026, 2, 28))
    assert Filters(end="2026-03").in_period().period == Period(None, date(2026, 3, 31))
    assert Filters("2026-03").in_period() == Filters("2026-03").selection()


def test_the_selection_carries_the_filters() -> None:
    chosen = Filters("2026-03", ("chicken",), ("Barn 2",), ("South",)).selection()
    assert (chosen.species, chosen.pens, chosen.incubators) == (("chicken",), ("Barn 2",), ("South",))


@pytest.mark.parametrize("given", ["0", "0.9", "-5", "100.1", "many", "nan", "inf"])
def test_chicks_that_cannot_be_wanted_are_left_out_and_said(given: str) -> None:
    found, said = state.read({"target": [given]}, KNOWN)
    assert found.target is None
    assert said == (words.bad_target_in_link(given),)


def test_stripes_of_a_step_that_is_none_are_of_the_whole_way_and_said() -> None:
    found, said = state.read({"stripes": ["middle"], "bird": ["dodo"], "target": [" "]}, KNOWN)
    assert (found.stripes, found.bird, found.target) == ("all", "", None)
    assert len(said) == 2
