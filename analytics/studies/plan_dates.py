"""When a batch is candled, moved and hatched, by the published days of its birds; what goes ill together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from itertools import combinations
from pathlib import Path

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.reference.benchmarks import benchmarks_of
from analytics.reference.hatch_shifts import storage_hours_a_day
from analytics.reference.settings import Quantity, settings_of, whole_range
from analytics.reference.sources import source_table
from analytics.reference.species import Species, species_name, species_table
from analytics.store.counts import counting
from analytics.store.gaps import InMachine, batches_in_machine
from analytics.store.machines import machines
from analytics.studies.plan_records import DatesAnswer, DayRange, SpeciesDates
from analytics.studies.temperatures import on_scale, unit
from analytics.studies.wording import counted, day_range, listed, long_day, short_day, species_words

_AUTHORS_NAMED = 2
_NO_SOURCE = "common practice, no source"
_WANTED = {
    Quantity.SETTER_C: ("in the setter", 1),
    Quantity.SETTER_RH_PCT: ("% humidity in the setter", 0),
    Quantity.HATCHER_RH_PCT: ("% humidity in the hatcher", 0),
}
"""Settings on which birds may disagree -> their words and decimals."""


def plan_dates(
    store: Path, set_on: date, species: Sequence[str], machine: str = "", storage_days: float | None = None
) -> DatesAnswer:
    """The days of a batch.

    Args:
        store: its batches in the machine are looked at; without a store, or a machine, none are.
        set_on: day of setting, day 0.
        species: keys of the birds in the batch.
        machine: label of the machine, or "".
        storage_days: days the eggs were stored, or None.

    Raises:
        WrongUsage: an unknown species or machine, or a species twice.
        StoreError and its kinds: as `reading`.
    """
    if len(set(species)) < len(species):
        raise WrongUsage(f"{listed(list(species))}", "A bird is named once", "Leave the second mention out")
    for key in species:
        species_name(key)
    found = tuple(_dates(species_table()[key], set_on, storage_days or 0.0) for key in species)
    machine, inside = _inside(store, machine) if machine and store.exists() else (machine, ())
    warnings = (*_mixed(found, set_on), *_already_there(found, inside, machine, set_on))
    sentence = _sentence(found, set_on, machine, storage_days)
    return DatesAnswer(set_on, machine, storage_days, found, warnings, sentence)


def _inside(store: Path, machine: str) -> tuple[str, tuple[InMachine, ...]]:
    """The machine as the records spell it, and what is in it."""
    chosen = Selection(incubators=(machine,))
    with counting(store, chosen) as connection:
        named = machines(connection, chosen)
        return named[0].incubator if named else machine, batches_in_machine(connection, chosen)


def _dates(bird: Species, set_on: date, storage_days: float) -> SpeciesDates:
    least, most = (storage_days * hours for hours in storage_hours_a_day())
    start = datetime.combine(set_on, time())
    first = start + timedelta(days=bird.shortest_days)
    last = start + timedelta(days=bird.longest_days, hours=most)
    ends = dict.fromkeys((f"{bird.shortest_days:g}", f"{bird.longest_days:g}"))
    days = f"{'–'.join(ends)} days"
    return SpeciesDates(
        species=bird.key,
        name=bird.name,
        candle=_candle(bird, set_on),
        transfer=_transfer(bird, set_on),
        hatch=DayRange(
            first.date(), last.date(), f"{days} ({_authors([row.source_id for row in bird.published])})"
        ),
        storage_hours=(least, most),
    )


def _candle(bird: Species, set_on: date) -> DayRange:
    rows = benchmarks_of(bird.key, "candling_day")
    low, high = (round(edge) for edge in (min(row.low for row in rows), max(row.high for row in rows)))
    return _range(set_on, low, high, [row.source_id for row in rows])


def _transfer(bird: Species, set_on: date) -> DayRange:
    if bird.transfer_days is None:
        why = "no published day of transfer was found; some three days before the hatch is common practice"
        return DayRange(None, None, "", why)
    return _range(set_on, *bird.transfer_days, [bird.source_id])


def _range(set_on: date, low: int, high: int, sources: Sequence[str]) -> DayRange:
    days = f"day {low}" if low == high else f"days {low}–{high}"
    first, last = (set_on + timedelta(days=day) for day in (low, high))
    return DayRange(first, last, f"{days} ({_authors(sources)})")


def _authors(sources: Sequence[str]) -> str:
    """Who says so; the first ones by name."""
    known = [source_table()[name] for name in dict.fromkeys(sources)]
    said = [
        _NO_SOURCE if one.author == "no author" else f"{one.author} {one.year or ''}".rstrip()
        for one in known
    ]
    more = len(said) - _AUTHORS_NAMED
    return "; ".join(said[:_AUTHORS_NAMED]) + (f"; and {more} more" if more > 0 else "")


def _sentence(found: Sequence[SpeciesDates], set_on: date, machine: str, storage_days: float | None) -> str:
    where = f" in {machine}" if machine else ""
    each = [f"{species_words(one.species)} eggs hatch {_days(one.hatch)}" for one in found]
    said = f"Set on {long_day(set_on)}{where}: {listed(each)}."
    if not storage_days:
        return said
    low, high = found[0].storage_hours
    days = counted(round(storage_days), "day")
    return (
        f"{said} {days} of storage may delay the hatch by {low:.0f} to {high:.0f} hours; the last day allows "
        "for it."
    )


def _days(found: DayRange) -> str:
    return day_range(found.first, found.last) if found.first and found.last else "not published"


def _mixed(found: Sequence[SpeciesDates], set_on: date) -> Iterator[str]:
    """What does not go together among birds set at once."""
    *early, last = sorted(found, key=_middle)
    gaps = [(one, round((_middle(last) - _middle(one)) / timedelta(days=1))) for one in early]
    later = [
        f"{species_words(one.species)} eggs on {short_day(set_on + timedelta(days=gap))} "
        f"({counted(gap, 'day')} later)"
        for one, gap in gaps
        if gap
    ]
    if later:
        yield (
            f"In one machine {listed([species_words(one.species) for one in (*early, last)])} do not go "
            "together: when the first are moved or hatch, the others still want turning. To hatch with "
            f"{species_words(last.species)}, set {listed(later)}."
        )
    for one, other in combinations(found, 2):
        yield from _settings(one, other)


def _middle(one: SpeciesDates) -> datetime:
    assert one.hatch.first
    assert one.hatch.last
    first, last = (datetime.combine(day, time()) for day in (one.hatch.first, one.hatch.last))
    return first + (last - first) / 2


def _settings(one: SpeciesDates, other: SpeciesDates) -> Iterator[str]:
    """Settings whose published ranges have nothing in common."""
    for quantity, (words, decimals) in _WANTED.items():
        ranges = [whole_range(settings_of(bird.species, quantity)) for bird in (one, other)]
        if ranges[0] is None or ranges[1] is None:
            continue
        (low, high), (other_low, other_high) = ranges[0], ranges[1]
        if high < other_low or other_high < low:
            if quantity is Quantity.SETTER_C:
                words = f"{unit()} in the setter"
            scaled = on_scale if quantity is Quantity.SETTER_C else float
            both = ((low, high), (other_low, other_high))
            ends = [f"{scaled(a):.{decimals}f}–{scaled(b):.{decimals}f}" for a, b in both]
            yield f"Published for {one.name}: {ends[0]} {words}; for {other.name}: {ends[1]}."


def _already_there(
    found: Sequence[SpeciesDates], inside: Sequence[InMachine], machine: str, set_on: date
) -> Iterator[str]:
    """Batches of other birds that would still be in the machine."""
    own = {one.species for one in found}
    for batch in inside:
        strange = [key for key in batch.species if key not in own]
        if strange and batch.due_to and batch.due_to >= set_on:
            kinds = listed([species_words(key) for key in strange])
            yield (
                f"Batch {batch.batch} in {machine} holds {kinds} ({counted(batch.eggs_set, 'egg')}), due "
                f"until {short_day(batch.due_to)}: two kinds of birds are moved and hatch on different days."
            )
