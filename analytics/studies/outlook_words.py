"""What is ahead in sentences: chicks to expect, and the birds that are there."""

from __future__ import annotations

from collections.abc import Iterator

from analytics.studies.outlook import DueChicks, Outlook
from analytics.studies.wording import counted, day_range, long_day, month_name, species_title, species_words

NOTHING_DUE = "No eggs are in a machine whose hatch is still to come."
AS_BEFORE = (
    "Expected is what these pens' eggs gave in the twelve months before; a new male, season or machine is "
    "not in it."
)


def ahead_words(told: Outlook) -> tuple[str, ...]:
    """Chicks to expect month by month, how they are expected, and how many birds are there."""
    due = [due_chicks_words(one) for one in told.due] or [NOTHING_DUE]
    how = [AS_BEFORE] if any(one.expected for one in told.due) else []
    return (*due, *how, *birds_words(told))


def due_chicks_words(one: DueChicks) -> str:
    """`November 2026: about 49 Coturnix quail chicks (37 to 61) of 76 eggs, due 5 to 7 Nov 2026.`"""
    when = f"{month_name(one.month)}: " if one.month else ""
    eggs, bird = counted(one.eggs, "egg"), species_words(one.species)
    days = f", due {day_range(one.first_day, one.last_day)}" if one.first_day and one.last_day else ""
    if one.expected is None:
        return f"{when}{eggs} of {bird}{days}; how many chicks cannot be said: {one.why}."
    chicks = counted(round(one.expected.chicks), f"{bird} chick")
    within = f"{round(one.expected.low):,} to {round(one.expected.high):,}"
    return f"{when}about {chicks} ({within}) of {eggs}{days}."


def birds_words(told: Outlook) -> Iterator[str]:
    """Males and hens of each species on the day."""
    for species in dict.fromkeys(one.species for one in told.birds):
        pens = [one for one in told.birds if one.species == species]
        written = [one for one in pens if one.males is not None and one.females is not None]
        males, hens = sum(one.males or 0 for one in written), sum(one.females or 0 for one in written)
        said = f"{counted(males, 'male')} and {counted(hens, 'hen')} in {counted(len(written), 'pen')}"
        rest = len(pens) - len(written)
        without = f"; of {counted(rest, 'pen')} no birds are written down" if rest else ""
        yield f"{species_title(species)} on {long_day(told.as_of)}: {said}{without}."
