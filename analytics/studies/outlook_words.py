"""What is ahead in sentences: chicks to expect, and the birds that are there."""

from __future__ import annotations

from analytics.studies.outlook import DueChicks, Outlook
from analytics.studies.wording import counted, day_range, long_day, species_words

AS_GIVEN = "As such eggs gave in the last twelve months."
NOTHING_DUE = "No eggs are in a machine whose hatch is still to come."
AS_BEFORE = "As such eggs gave in the twelve months before: a new male, season or machine is not in it."


def ahead_words(told: Outlook) -> tuple[str, ...]:
    """Chicks to expect, how they are expected, and how many birds are there."""
    due = [due_chicks_words(one) for one in told.due] or [NOTHING_DUE]
    if any(one.expected for one in told.due):
        due[-1] += f" {AS_GIVEN}"
    return (*due, *birds_words(told))


def due_chicks_words(one: DueChicks) -> str:
    """`About 49 Coturnix quail chicks (37 to 61) of 76 eggs, due 5 to 8 Nov 2026.`"""
    eggs, bird = counted(one.eggs, "egg"), species_words(one.species)
    days = f", due {day_range(one.first_day, one.last_day)}" if one.first_day and one.last_day else ""
    if one.expected is None:
        return f"{eggs} of {bird}{days}; how many chicks cannot be said: {one.why}."
    chicks = counted(round(one.expected.chicks), f"{bird} chick")
    within = f"{round(one.expected.low):,} to {round(one.expected.high):,}"
    return f"About {chicks} ({within}) of {eggs}{days}."


def birds_words(told: Outlook) -> tuple[str, ...]:
    """Males and hens of each species on the day, as one sentence; () where no pen is there."""
    those = [_birds_of(told, species) for species in dict.fromkeys(one.species for one in told.birds)]
    return (f"Present on {long_day(told.as_of)}: {'; '.join(those)}.",) if those else ()


def _birds_of(told: Outlook, species: str) -> str:
    pens = [one for one in told.birds if one.species == species]
    written = [one for one in pens if one.males is not None and one.females is not None]
    males, hens = sum(one.males or 0 for one in written), sum(one.females or 0 for one in written)
    rest = len(pens) - len(written)
    if not written:
        return f"{species_words(species)} in {counted(rest, 'pen')}, their males and hens not written down"
    said = f"{counted(males, 'male')} and {counted(hens, 'hen')} in {counted(len(written), 'pen')}"
    without = f" (of {counted(rest, 'more pen')} no birds are written down)" if rest else ""
    return f"{species_words(species)} {said}{without}"
