"""Filters and the link: what is written is read back, and a stranger's link is answered in words."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from analytics.values import Month
from dashboard import state, words
from dashboard.state import Filters, Known

KNOWN = Known(
    months=(Month(2026, 1), Month(2026, 3)),
    species=("chicken", "coturnix_quail"),
    pens=("Barn 1", "Barn 2", "R&D = 100 %?", "Älv"),
    incubators=("North", "South"),
)


def _some(labels: tuple[str, ...]) -> st.SearchStrategy[tuple[str, ...]]:
    return st.lists(st.sampled_from(labels), unique=True).map(tuple)


@given(
    st.builds(
        Filters,
        st.sampled_from(["", "2026-01", "2026-03"]),
        _some(KNOWN.species),
        _some(KNOWN.pens),
        _some(KNOWN.incubators),
        st.sampled_from(sorted(words.MEANINGS)),
    )
)
def test_what_is_written_is_read_back(filters: Filters) -> None:
    assert state.read(state.write(filters), KNOWN) == (filters, ())


@given(st.dictionaries(st.sampled_from([*state.FIELDS, "x"]), st.lists(st.text(max_size=200), max_size=80)))
def test_a_strangers_link_gives_known_values_only(link: dict[str, list[str]]) -> None:
    filters, said = state.read(link, KNOWN)
    assert set(filters.species) <= set(KNOWN.species)
    assert set(filters.pens) <= set(KNOWN.pens)
    assert set(filters.incubators) <= set(KNOWN.incubators)
    assert filters.month in ("", "2026-01", "2026-03")
    assert filters.measure in words.MEANINGS
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
    }
    filters, said = state.read(link, KNOWN)
    assert filters == Filters(pens=("Barn 2",))
    text = " ".join(said)
    for part in ("2026-02", "dodo", "DROP TABLE", "<script>", "b 2", "passwd", "__class__"):
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


def test_what_the_records_lost_is_let_go() -> None:
    kept = Filters("2025-01", ("duck", "chicken"), ("Gone", "Barn 2"), ("South",))
    assert state.still_known(kept, KNOWN) == Filters("2026-03", ("chicken",), ("Barn 2",), ("South",))


def test_the_selection_carries_the_filters() -> None:
    chosen = Filters("2026-03", ("chicken",), ("Barn 2",), ("South",)).selection()
    assert (chosen.species, chosen.pens, chosen.incubators) == (("chicken",), ("Barn 2",), ("South",))
