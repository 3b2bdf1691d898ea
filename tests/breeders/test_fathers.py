"""Whose eggs they are after a change of males, by hand: days on a calendar, and what is not known."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from analytics.breeders.fathers import OPEN, UNDATED, Laid, Males, Stood, eggs_by_reason, fathers

QUAIL_DAYS = 10
"""Days in which a former male may be the father: the longest mean of a group was 9.18 (Reddish et al. 1996,
fertile period of quail after the males were taken out; SEEN in the abstract), and a day's margin."""


def _trays(*rows: tuple[str, str, str, str]) -> Laid:
    """Pen, father written, first and last day of lay in March ("" = not known); set on the day after."""
    days = [[np.datetime64(f"2026-03-{day}" if day else "NaT", "D") for day in row[2:]] for row in rows]
    first, last = np.array(days).T
    set_on = np.array(
        [np.datetime64("2026-03-28") if np.isnat(day) else day + 1 for day in last], dtype="datetime64[D]"
    )
    return Laid(np.array([row[0] for row in rows]), np.array([row[1] for row in rows]), first, last, set_on)


def _stay(male: str, first: int, last: int | None, pen: str = "Ash") -> Stood:
    return Stood(pen, male, date(2026, 3, first), date(2026, 3, last) if last else None)


SWAP = (_stay("Old", 1, 9), _stay("New", 10, None))


@pytest.mark.parametrize(
    ("first", "last", "father", "why"),
    [
        ("03", "08", "Old", ""),  # before: no other male was there
        ("05", "11", "", OPEN),  # across the change
        ("10", "12", "", OPEN),
        ("19", "21", "", OPEN),  # the 19th is the tenth day after the 9th
        ("20", "22", "New", ""),
    ],
)
def test_the_days_after_a_change_leave_the_father_open(first: str, last: str, father: str, why: str) -> None:
    written = "Old" if last < "10" else "New"
    found = fathers(_trays(("Ash", written, first, last)), Males(SWAP), QUAIL_DAYS)
    assert [one.tolist() for one in found] == [[father], [why]]


def test_eggs_without_days_are_left_out_after_a_change_not_long_past() -> None:
    trays = _trays(("Ash", "New", "", ""), ("Elm", "Sole", "", ""), ("Oak", "Late", "", ""))
    ago = (Stood("Oak", "Early", date(2025, 1, 1), date(2026, 1, 16)), _stay("Late", 1, None, "Oak"))
    males = Males((*SWAP, _stay("Sole", 1, None, "Elm"), *ago))
    sire, why = fathers(trays, males, QUAIL_DAYS)
    # set on 28 March: laid from 27 January on, 11 days after the 16th of that month
    assert (sire.tolist(), why.tolist()) == (["", "Sole", "Late"], [UNDATED, "", ""])


def test_an_empty_cell_is_filled_by_the_only_male_that_can_be_it() -> None:
    trays = _trays(("Ash", "", "03", "08"), ("Ash", "", "12", "14"), ("Ash", "", "24", "26"))
    assert fathers(trays, Males(SWAP), QUAIL_DAYS)[0].tolist() == ["Old", "", "New"]
    # of a pen with several males at a time nobody knows
    several = Males(SWAP, several=frozenset({"Ash"}))
    assert fathers(trays, several, QUAIL_DAYS)[0].tolist() == ["", "", ""]


def test_the_same_male_back_again_and_two_males_side_by_side_leave_nothing_open() -> None:
    back = Males((_stay("Old", 1, 9), _stay("Old", 12, None)))
    side_by_side = Males((_stay("Old", 1, None), _stay("Two", 1, None)), several=frozenset({"Ash"}))
    for males in (back, side_by_side):
        sire, why = fathers(_trays(("Ash", "Old", "10", "14")), males, QUAIL_DAYS)
        assert (sire.tolist(), why.tolist()) == (["Old"], [""])


def test_without_stays_the_trays_themselves_or_a_dated_change_say_when() -> None:
    trays = _trays(
        ("Ash", "Old", "01", "04"), ("Ash", "New", "05", "08"), ("Ash", "New", "15", "17"),
        ("Ash", "New", "16", "18"),
    )  # fmt: skip
    # the first eggs of the new one are of the 5th, so that he came on that day at the latest
    sire, why = fathers(trays, Males(), QUAIL_DAYS)
    assert sire.tolist() == ["Old", "", "", "New"]
    assert why.tolist() == ["", OPEN, OPEN, ""]
    dated = Males(swaps=(("Ash", date(2026, 3, 3)),), several=frozenset({"Ash"}))
    assert fathers(trays, dated, QUAIL_DAYS)[1].tolist() == [OPEN, OPEN, "", ""]


def test_what_is_left_out_is_counted() -> None:
    why, eggs = np.array(["", OPEN, OPEN, UNDATED]), np.array([20.0, 18.0, 12.0, 24.0])
    found = eggs_by_reason(why, eggs, np.array([True, True, False, True]))
    assert found == {OPEN: (1, 18.0), UNDATED: (1, 24.0)}
