"""Published slopes of traits on inbreeding, against their sources."""

from __future__ import annotations

from analytics.reference.inbreeding_slopes import inbreeding_slopes_table
from analytics.reference.sources import Status

# Shinjo, Mizuma and Nishida 1972, Jpn. Poult. Sci. 9:254-260, abstract (SEEN); hatchability from MEMORY
PRINTED = {
    "eggs a hen and day": (-3.38, Status.SEEN),
    "chicks alive to 4 weeks": (-6.34, Status.SEEN),
    "fitness index": (-9.56, Status.SEEN),
    "hatchability": (-7.0, Status.MEMORY),
}


def test_figures_are_as_printed() -> None:
    found = {row.trait: (row.points, row.status) for row in inbreeding_slopes_table()}
    assert found == PRINTED
    assert all(str(abs(row.points)).removesuffix(".0") in row.as_printed for row in inbreeding_slopes_table())
