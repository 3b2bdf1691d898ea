"""What a reader wants of every page: °F, days otherwise written, high contrast; kept in the link."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from streamlit.testing.v1 import AppTest

from analytics.studies import reading, temperatures, wording
from analytics.studies.incubators_words import celsius_range
from analytics.studies.reading import Reading
from dashboard import reader

_FIRST, _LAST = date(2026, 2, 1), date(2026, 3, 31)


@pytest.fixture
def read_as() -> Iterator[list[Reading]]:
    """A reader whose wishes a test may change."""
    wanted = [reading.USUAL]
    before = reading._ask[0]
    reading.ask_by(lambda: wanted[0])
    yield wanted
    reading.ask_by(before)


def test_the_link_holds_what_is_not_as_usual_and_nothing_else() -> None:
    assert reader.link(reader.Reader()) == {}
    wanted = reader.Reader(Reading("f", "iso"), reader.HIGH)
    assert reader.link(wanted) == {"degrees": ["f"], "days": ["iso"], "contrast": ["high"]}
    assert reader.of({"degrees": "f", "days": "iso", "contrast": "high"}) == wanted
    assert reader.of({"degrees": "kelvin", "days": "", "contrast": "<b>"}) == reader.Reader()


def test_fahrenheit_has_its_own_zero_and_its_own_steps(read_as: list[Reading]) -> None:
    """37.5 °C is 99.5 °F, and 1 °C apart is 1.8 °F apart: by definition of the scales."""
    assert temperatures.heat(37.5) == "37.5 °C"
    assert temperatures.heat_apart(-1.0, signed=True) == "−1.0 °C"
    read_as[0] = Reading("f")
    assert temperatures.heat(37.5) == "99.5 °F"
    assert temperatures.heat_apart(-1.0, signed=True) == "−1.8 °F"
    assert celsius_range(0.5, 1.0) == "0.9 to 1.8"


@pytest.mark.parametrize(
    ("days", "short", "span", "months", "long"),
    [
        ("day", "1 Feb 2026", "6 to 9 Mar 2026", "1 Feb to 31 Mar 2026", "1 February to 31 March 2026"),
        ("month", "Feb 1, 2026", "Mar 6 to 9, 2026", "Feb 1 to Mar 31, 2026", "February 1 to March 31, 2026"),
        ("iso", "2026-02-01", "2026-03-06 to 2026-03-09", "2026-02-01 to 2026-03-31",
         "2026-02-01 to 2026-03-31"),
    ],
)  # fmt: skip
def test_days_are_written_as_the_reader_wants(
    read_as: list[Reading], days: reading.Days, short: str, span: str, months: str, long: str
) -> None:
    read_as[0] = Reading(days=days)
    assert wording.short_day(_FIRST) == short
    assert wording.day_range(date(2026, 3, 6), date(2026, 3, 9)) == span
    assert wording.day_range(_FIRST, _LAST) == months
    assert wording.long_day_range(_FIRST, _LAST) == long


def _frame() -> None:
    from dashboard.components import link, reader

    reader.settle()
    reader.choose()
    link.keep()


def test_a_link_is_taken_once_and_then_the_reader_chooses() -> None:
    page = AppTest.from_function(_frame, default_timeout=60)
    page.query_params["degrees"] = "f"
    page.query_params["days"] = "iso"
    page.run()
    assert not page.exception
    assert page.radio(key="reader degrees").value == "f"
    page.radio(key="reader degrees").set_value("c").run()
    page.radio(key="reader contrast").set_value("high").run()
    assert page.radio(key="reader degrees").value == "c"  # what the reader chooses wins over an old link
    assert page.query_params == {"days": "iso", "contrast": "high"}
