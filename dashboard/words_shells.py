"""Words of the parts on shells, water and cleaning."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.reports.signs_shells import said
from analytics.studies.hygiene import HygieneAnswer
from analytics.studies.shells import ShellsAnswer
from analytics.studies.wording import species_words

SHELLS_HEADING = "Shells and water"
SHELLS_TABLE = "Pen by pen, beside the other pens"
COLUMNS = (
    "Pen (feed)",
    "Shell, mm",
    "Specific gravity",
    "Water lost, %",
    "Dead late, %",
    "Pipped, not out, %",
)
COLUMNS_KEY = (
    "Own figure / that of the other pens on the usual feed: shells and specific gravity of the same days; "
    "water as share of the weight at setting, and deaths as share of the eggs alive until then, of the same "
    "batches."
)
SOURCES = "Sources on shells"
CLEANING_HEADING = "Cleaning"
CLEANING_TABLE = "Losses by days since cleaning"
COL_LOSS, COL_DAYS, COL_SHARE, COL_BATCHES = "Loss", "Days since cleaning", "Share and its range", "Batches"


def shells_points(one: ShellsAnswer) -> list[str]:
    """What is said of shells and water, the hypothesis last."""
    return list(said(one))


def bird(one: ShellsAnswer | HygieneAnswer, many: Sequence[object]) -> str:
    """The bird, where there are several; else ""."""
    name = species_words(one.species)
    return f"{name[:1].upper()}{name[1:]}" if len(many) > 1 else ""
