"""How long the sire of an egg is open after a change of males, against the published days."""

from __future__ import annotations

from analytics.reference.fertile_period import ANY, fertile_period
from analytics.reference.sources import read_rows, source_table
from analytics.reference.species import species_table


def test_published_days() -> None:
    # Reddish et al. 1996 (SEEN, abstract): 3.75 to 9.18 days a group, so 10 is the next whole day
    assert 9.18 < fertile_period("coturnix_quail").days <= 10
    # Hutt 1949, Genetics of the Fowl (SEEN): stop 12-14 days after the male has left
    assert fertile_period("chicken").days == 14
    # University of Maine Bulletin 2072 (SEEN): turkeys about 4 weeks
    assert fertile_period("turkey").days == 4 * 7


def test_a_bird_without_a_figure_has_the_longest_and_says_so() -> None:
    longest = max(int(row["days"]) for row in read_rows("fertile_period.csv"))
    assert fertile_period("chukar").days == longest
    assert "no figure" in fertile_period("chukar").note


def test_every_row_has_a_source_read_as_it_says() -> None:
    for row in read_rows("fertile_period.csv"):
        assert row["species"] in {ANY, *species_table()}
        assert source_table()[row["source_id"]].status == row["status"]
