"""One batch in words: the answer, what makes it hard to read, and what it cannot tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from analytics.reference.species import species_table, stage_words
from analytics.store.batch import BatchHead, OtherBatches
from analytics.studies.batch_eggs import DEAD, UNTOLD
from analytics.studies.batch_next import Known
from analytics.studies.batch_records import BatchDue, BatchSpecies, BatchWords, EggShare, State
from analytics.studies.cautions import OPENING, ROTTEN, cautions_for
from analytics.studies.headline import WIDE
from analytics.studies.wording import (
    counted,
    day_range,
    listed,
    long_day,
    percent,
    percent_range,
    species_words,
)

ONE_HATCH = "One hatch cannot say whose loss that was: here are the counts and what to look at, no verdict."
ALL_HATCHED = "Every egg hatched. One hatch cannot promise the next."
_DIED = {
    "early": "early",
    "mid": "in the middle",
    "late": "late",
    "shell": "after the pip",
    "unstaged": "at a step not written down",
}


def batch_words(
    known: Known, state: State, due: Sequence[BatchDue], others: Sequence[OtherBatches], as_of: date
) -> BatchWords:
    """The answer in words.

    Args:
        known: the batch with what is written down around it.
        state: whether it is out, and counted.
        due: what is due.
        others: the farm's other batches.
        as_of: the day asked about.
    """
    care = [OPENING] if known.eggs_of(*UNTOLD, "clear") else []
    care += [ROTTEN] if known.eggs_of(*UNTOLD) else []
    shown = {"rotten": known.eggs_of("rotten"), "malformed": known.recorded.marks["malformed"]}
    care += cautions_for([sign for sign, eggs in shown.items() if eggs])
    return BatchWords(
        sentences=tuple(_sentences(known, state, due, others, as_of)),
        warnings=tuple(_warnings(known)),
        cannot_tell=tuple(_cannot_tell(known)) if state == "hatched" else (),
        cautions=tuple(dict.fromkeys(care)),
        made=tuple(_made(known.species)),
    )


def _sentences(
    known: Known, state: State, due: Sequence[BatchDue], others: Sequence[OtherBatches], as_of: date
) -> Iterator[str]:
    head = known.head
    if state == "empty":
        yield f"No eggs are written down for batch {head.batch}."
        yield "Write a row for each tray into the sheet trays: batch, tray, pen and eggs_set."
        return
    eggs = listed([f"{counted(one.eggs_set, f'{species_words(one.species)} egg')}" for one in known.species])
    if state == "not_counted":
        yield f"Batch {head.batch} with {eggs} was taken out, and no hatch is written down."
        yield "Write the chicks kept into `hatched`, sheet trays; 0 if there were none."
        return
    if state in ("in_machine", "overdue"):
        yield f"Batch {head.batch} with {eggs} is in {head.incubator} since {long_day(head.set_on.date())}."
        yield from _next_due(due, as_of)
        return
    for one in known.species:
        yield from _of_species(head, one)
    yield ONE_HATCH if known.lost > 0 else ALL_HATCHED
    yield from _beside_others(others, known.species)


def _next_due(due: Sequence[BatchDue], as_of: date) -> Iterator[str]:
    hatch = [one for one in due if one.what == "hatch"]
    if hatch and max(one.last for one in hatch) < as_of:
        past = (as_of - max(one.last for one in hatch)).days
        yield (
            f"It is {counted(past, 'day')} past the last day of any source. Look into the machine; if the "
            "hatch is over, write pulled_on (batches) and the counts (trays)."
        )
        return
    is_mixed = len({one.species for one in due}) > 1
    for one in due:
        if one.state in ("now", "ahead"):
            days = day_range(one.first, one.last)
            eggs = f", {species_words(one.species)} eggs" if is_mixed else ""
            yield f"{one.name}{eggs}: {days} ({one.days})."
    if not due:
        yield "The days of this bird are not in the tables of penwise."


def _of_species(head: BatchHead, one: BatchSpecies) -> Iterator[str]:
    name = species_words(one.species)
    if one.hatch is None:
        yield f"Of {counted(one.eggs_set, f'{name} egg')} set no hatch is written down."
        return
    yield (
        f"Of {counted(one.eggs, f'{name} egg')} set in {head.incubator} on {long_day(head.set_on.date())}, "
        f"{one.hatch.count} hatched: {of_set(one.hatch)}."
    )
    if one.hatch.interval.high - one.hatch.interval.low > WIDE:
        yield "These are few eggs: chance alone leaves that wide range."
    if one.eggs < one.eggs_set:
        yield f"In no share here: {counted(one.eggs_set - one.eggs, 'egg')} in trays without a hatch count."
    yield from _not_hatched(one)


def _not_hatched(one: BatchSpecies) -> Iterator[str]:
    blank, clear, infertile = one.eggs_of(*UNTOLD), one.eggs_of("clear"), one.eggs_of("infertile")
    if blank:
        were = "egg was" if blank == 1 else "eggs were"
        yield f"{blank} unhatched {were} not opened, or not written down: how far they came is not known."
    if (clear or infertile) and one.without:
        of_them = f" ({infertile} infertile when opened, {clear} clear)" if clear and infertile else ""
        sentence = f"{one.without.count} showed no development{of_them}: {of_set(one.without)}."
        yield f"{sentence} Clear eggs may be infertile or dead very early." if clear else sentence
    dead = one.eggs_of(*DEAD, "unstaged")
    if dead:
        parts = [f"{fate.share.count} {_DIED[fate.fate]}" for fate in one.fates if fate.fate in _DIED]
        yield f"{counted(dead, 'embryo')} died: {listed(parts)}."


def of_set(share: EggShare) -> str:
    """`38 % of set (23–55 %)`; `or more` where other eggs may belong to it too."""
    more = " or more" if share.left_open else ""
    return f"{percent(share.share)} %{more} of set ({percent_range(share.interval)})"


def _beside_others(others: Sequence[OtherBatches], species: Sequence[BatchSpecies]) -> Iterator[str]:
    for one in species:
        for other in others:
            if other.species == one.species and other.kind == "incubator":
                yield other_words(other)


def other_words(other: OtherBatches) -> str:
    """How other batches stood, in a sentence."""
    whose = {
        "farm": "Your other batches of this bird",
        "incubator": f"Your other batches in {other.label}",
        "pen": f"The other batches of pen {other.label}",
    }[other.kind]
    share = percent(other.chicks / other.eggs)
    ends = f"{percent(other.lowest)} to {percent(other.highest)} %"
    spread = f", from batch to batch {ends}" if other.batches > 1 else ""
    return f"{whose} ({other.batches}) hatched {share} % of {other.eggs:,} eggs set{spread}."


def _warnings(known: Known) -> Iterator[str]:
    if len(known.species) > 1:
        names = listed([species_words(one.species) for one in known.species])
        yield (
            f"Eggs of {names} were set together. Their days and their humidity differ: no one day of "
            f"transfer suits all, and the hours of this hatch are not read. {_days_differ(known.species)}"
        ).rstrip()
    for one in known.species:
        if one.species not in species_table():
            yield f"{one.species} is not in the tables of penwise: no days and no published figures."


def _days_differ(species: Sequence[BatchSpecies]) -> str:
    table = species_table()
    days = [
        f"{species_words(one.species)} {table[one.species].shortest_days:.3g} to "
        f"{table[one.species].longest_days:.3g}"
        for one in species
        if one.species in table
    ]
    return f"Days in any source: {listed(days)}." if days else ""


def _cannot_tell(known: Known) -> Iterator[str]:
    if known.lost > 0:
        yield _whose(known)
    blank, clear = known.eggs_of(*UNTOLD), known.eggs_of("clear")
    if blank:
        yield f"Whether the {counted(blank, 'unopened egg')} were infertile, or when they died."
    if clear:
        yield f"Whether the {counted(clear, 'clear egg')} were infertile or died before anything showed."
    if known.hours.window is None:
        why = known.hours.why or "no hours are written down"
        yield f"Whether it hatched early or late: {why}."
    if known.longest_stored is None:
        yield "Whether storage cost chicks: the days are not written down."
    elif all(high - low < 1 for low, _, high in (one.storage for one in known.species if one.storage)):
        yield "Whether storage cost chicks: all trays were stored equally long on the whole."
    for one in known.species:
        if one.hatch:
            rate = one.rates.get("hatch_of_set")
            # eggs of one hatch share their luck: the wider range of hatches in general, where it is known
            reach = (rate.interval if rate else None) or one.hatch.interval
            yield (
                f"How much was chance: {one.hatch.count} of {one.eggs} fits anything from "
                f"{percent(reach.low)} to {percent(reach.high)} % for eggs like these."
            )


def _whose(known: Known) -> str:
    pens = [pen.pen for pen in known.pens]
    if len(pens) == 1:
        return (
            f"Whether it was the birds or the machine: all eggs are of pen {pens[0]} and all were in "
            f"{known.head.incubator}."
        )
    return (
        f"Whether it was the machine: all pens' eggs were in {known.head.incubator}, so that what it cost "
        "falls on all of them. Whether one pen is poorer than another: beside each other they stand as "
        "counted, and one hatch has too few eggs of each."
    )


def _made(species: Sequence[BatchSpecies]) -> Iterator[str]:
    yield (
        "Every share is a count divided by the eggs set in trays whose hatch is written down. Its range is "
        "Wilson's at 95 %, as if every egg were its own trial."
    )
    for one in species:
        rate = one.rates.get("hatch_of_set")
        if rate and rate.interval and one.hatch:
            yield (
                "Eggs of one hatch share their luck. For hatches of these birds in general the range of "
                f"hatch of set is wider: {percent_range(rate.interval)} instead of "
                f"{percent_range(one.hatch.interval)}."
            )
    yield (
        "Where eggs were not opened or not told apart, a range reaches from none of them to all of them. "
        "Nothing is tested here, for one batch has nothing to be tested against."
    )
    for one in species:
        if one.eggs_of(*DEAD):
            yield stage_words(one.species)
