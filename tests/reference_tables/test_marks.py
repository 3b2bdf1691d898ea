"""The mark where no aim is written down: one rule of thumb, and nothing claims more of it."""

from __future__ import annotations

from analytics.reference.marks import ANY, usual_mark
from analytics.reference.sources import Status, read_rows, source_table
from analytics.reference.species import species_table


def test_every_mark_has_a_source_and_is_a_share() -> None:
    rows = read_rows("marks.csv")
    assert ANY in {row["species"] for row in rows}
    for row in rows:
        assert row["species"] in {ANY, *species_table()}
        assert 0 < float(row["hatch_of_set"]) < 1
        assert source_table()[row["source_id"]].status == row["status"]


def test_a_remembered_figure_is_said_to_be_one() -> None:
    # common practice, no source: three of four eggs set
    mark = usual_mark("goose")
    assert (mark.hatch_of_set, mark.status) == (0.75, Status.MEMORY)
    assert usual_mark("no such bird") == mark
