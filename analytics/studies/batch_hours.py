"""When one batch hatched, against published hours; and what is due while it is in the machine."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Literal

from analytics.measures.hatch_timing import HatchWindow, hatch_window, offset_from_published
from analytics.reference.benchmarks import benchmarks_of
from analytics.reference.hatch_shifts import HOURS_A_DAY, published_hours, storage_hours_a_day
from analytics.reference.sources import source_table
from analytics.reference.species import Species, species_table
from analytics.store.batch import BatchHead, FateCounts, Recorded
from analytics.store.timing import CountedBatch
from analytics.studies.batch_records import BatchDue, BatchHours, ExpectedHours

_HOUR = timedelta(hours=1)
DAY_0 = "Day 0 is the hour of setting."


def has_hour(moment: datetime | None) -> bool:
    """Whether the hour is written down; midnight stands for a day without one."""
    return moment is not None and moment.time() != time.min


def expected_hours(species: str, storage_days: float | None) -> ExpectedHours | None:
    """When a bird's eggs are expected to hatch; None where its days are not known.

    Args:
        species: key.
        storage_days: mean days stored; None where not written down, and then nothing is added.
    """
    known = species_table().get(species)
    if known is None:
        return None
    middle = published_hours(species)
    least, most = (hours * (storage_days or 0.0) for hours in storage_hours_a_day())
    return ExpectedHours(
        begin=known.shortest_days * HOURS_A_DAY,
        bulk_from=middle[0] + least,
        bulk_to=middle[1] + most,
        end=max(known.longest_days * HOURS_A_DAY, middle[1]) + most,
        storage_hours=(least, most),
        as_printed=tuple(
            f"{row.as_printed} ({row.basis}): {source_table()[row.source_id].citation()}"
            for row in known.published
        ),
    )


def batch_hours(
    head: BatchHead, species: Sequence[FateCounts], counted_out: CountedBatch | None
) -> BatchHours:
    """When the batch hatched.

    Args:
        head: the batch.
        species: its species, pens together.
        counted_out: what was counted while it hatched; None while it is in the machine.
    """
    pulled = _between(head.set_on, head.pulled_on)
    expected = None
    if len(species) == 1:
        storage = species[0].storage
        expected = expected_hours(species[0].species, storage[1] if storage else None)
    if counted_out is None or counted_out.counts is None:
        why = counted_out.why if counted_out else ""
        said = _unread(why, expected, head, pulled)
        return BatchHours(expected, None, None, pulled, "not_known", why, said)
    window = hatch_window(counted_out.counts)
    known = expected is not None
    offset = offset_from_published([counted_out.counts], counted_out.species) if known else None
    stands = _stands(window, expected)
    said = _read(window, expected, stands, stored=any(one.storage for one in species))
    return BatchHours(expected, window, offset, pulled, stands, "", said)


def _between(start: datetime, end: datetime | None) -> float | None:
    return (end - start) / _HOUR if end and has_hour(start) and has_hour(end) else None


def _stands(
    window: HatchWindow, expected: ExpectedHours | None
) -> Literal["early", "late", "inside", "not_known"]:
    """Whether all of the middle's range lies before, or after, every published middle."""
    if expected is None:
        return "not_known"
    if window.median_interval.high < expected.bulk_from:
        return "early"
    return "late" if window.median_interval.low > expected.bulk_to else "inside"


def day_words(hours: float) -> str:
    """`17.2 days (412 h)`."""
    return f"{hours / HOURS_A_DAY:.1f} days ({hours:.0f} h)"


def _expected_words(expected: ExpectedHours) -> str:
    said = (
        f"Published: first chicks from {day_words(expected.begin)}, the bulk between "
        f"{day_words(expected.bulk_from)} and {day_words(expected.bulk_to)}, the last by "
        f"{day_words(expected.end)}"
    )
    most = expected.storage_hours[1]
    return f"{said}, {most:.0f} h of that for storage at most." if most >= 1 else f"{said}."


def _unread(
    why: str, expected: ExpectedHours | None, head: BatchHead, pulled: float | None
) -> tuple[str, ...]:
    said = [f"When it hatched cannot be read: {why}."] if why else []
    if head.pulled_on:
        days = (head.pulled_on.date() - head.set_on.date()).days
        after = (
            f"after {day_words(pulled)}" if pulled is not None else f"on day {days}, its hour is not known"
        )
        said.append(f"It was taken out {after}; the chicks came out before that.")
    if expected:
        said += [_expected_words(expected), DAY_0]
    return tuple(said)


def _read(window: HatchWindow, expected: ExpectedHours | None, stands: str, stored: bool) -> tuple[str, ...]:
    low, high = window.median_interval.low, window.median_interval.high
    said = [
        f"The first chick came out after about {day_words(window.first)}, half of them by "
        f"{day_words(window.median)} (range {low:.0f} to {high:.0f} h), the last after about "
        f"{day_words(window.last)}."
    ]
    if expected:
        said += [_expected_words(expected), _stands_words(window, expected, stands)]
    if stands == "late" and not stored:
        most = storage_hours_a_day()[1]
        said.append(f"The days of storage are not written down; each may add up to {most:.1f} h.")
    return (*said, DAY_0)


def _stands_words(window: HatchWindow, expected: ExpectedHours, stands: str) -> str:
    if stands == "inside":
        return (
            "Its middle fits what is published. Sources and lines differ by a day and more, so that "
            "nothing is said of the machine."
        )
    by = (
        window.median_interval.low - expected.bulk_to
        if stands == "late"
        else expected.bulk_from - window.median_interval.high
    )
    way = "later" if stands == "late" else "earlier"
    return f"That is {way} than anything published, by at least {by:.0f} h."


def due_days(
    head: BatchHead, species: Sequence[FateCounts], recorded: Recorded, as_of: date
) -> tuple[BatchDue, ...]:
    """What is due while a batch is in the machine, by day.

    Args:
        head: the batch.
        species: its species, pens together.
        recorded: what is written down around it.
        as_of: the day asked about.
    """
    known = species_table()
    found = [
        due
        for one in species
        if one.species in known
        for due in _due_of(head, known[one.species], one, recorded.candled > 0, as_of)
    ]
    return tuple(sorted(found, key=lambda due: (due.first, due.species)))


def _due_of(
    head: BatchHead, bird: Species, eggs: FateCounts, is_candled: bool, as_of: date
) -> list[BatchDue]:
    candling = benchmarks_of(bird.key, "candling_day")[0]
    due = [
        _due(head, bird.key, "candling", (candling.low, candling.high), candling.source_id, is_candled, as_of)
    ]
    if bird.transfer_days:
        moved = head.transfer_on is not None
        due.append(_due(head, bird.key, "transfer", bird.transfer_days, bird.source_id, moved, as_of))
    expected = expected_hours(bird.key, eggs.storage[1] if eggs.storage else None)
    assert expected
    days = (expected.begin / HOURS_A_DAY, expected.end / HOURS_A_DAY)
    sources = dict.fromkeys(row.source_id for row in bird.published)
    return [*due, _due(head, bird.key, "hatch", days, " ".join(sources), False, as_of)]


_DUE_NAMES = {"candling": "Candle", "transfer": "Move to the hatcher", "hatch": "Hatch expected"}


def _due(
    head: BatchHead,
    species: str,
    what: str,
    days: tuple[float, float],
    source_ids: str,
    is_done: bool,
    as_of: date,
) -> BatchDue:
    first, last = ((head.set_on + timedelta(days=day)).date() for day in days)
    said = f"day {days[0]:.3g}" if days[0] == days[1] else f"days {days[0]:.3g} to {days[1]:.3g}"
    state: Literal["done", "now", "ahead", "past"] = (
        "done" if is_done else "past" if last < as_of else "ahead" if as_of < first else "now"
    )
    sources = "; ".join(source_table()[name].citation() for name in source_ids.split())
    return BatchDue(what, _DUE_NAMES[what], species, first, last, said, sources, state)


def overdue_days(due: Sequence[BatchDue], as_of: date) -> int:
    """Days past the last expected day of hatch; 0 where it is not past, or not known."""
    lasts = [one.last for one in due if one.what == "hatch"]
    return max((as_of - max(lasts)).days, 0) if lasts else 0


def storage_words(storage: tuple[float, float, float]) -> str:
    """`stored 5 days`, `stored 3 to 8.5 days`."""
    low, _, high = storage
    return f"stored {low:.3g} days" if low == high else f"stored {low:.3g} to {high:.3g} days"
