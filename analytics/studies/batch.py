"""One batch, useful from the first hatch on: what became of its eggs, what to look at, what to write down.

No test is made and nothing is called a cause: with one batch nothing can be told apart, and that is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analytics.measures.clustering import estimate_clustering
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.store.batch import (
    BatchHead,
    BatchName,
    FateCounts,
    OtherBatches,
    PenNote,
    Recorded,
    batch_fates,
    batch_names,
    batch_pens,
    batch_recorded,
    choose_batch,
    other_batches,
)
from analytics.store.counts import Span, cluster_sums, counting, strata
from analytics.store.timing import CountedBatch, counted_batches
from analytics.studies.batch_eggs import batch_species
from analytics.studies.batch_evidence import batch_evidence
from analytics.studies.batch_hours import batch_hours, due_days, overdue_days
from analytics.studies.batch_next import Known, look_now, record_next
from analytics.studies.batch_records import BatchAnswer, BatchDue, BatchHours, BatchSign, BatchSpecies, State
from analytics.studies.batch_signs import batch_signs, with_evidence
from analytics.studies.batch_words import batch_words
from analytics.studies.records import Rates
from analytics.values import Period


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the store says of the batch."""

    head: BatchHead
    name: BatchName
    counts: tuple[FateCounts, ...]
    rates: Mapping[str, Rates]
    counted: CountedBatch | None
    recorded: Recorded
    pens: tuple[PenNote, ...]
    others: tuple[OtherBatches, ...]


def batches(store: Path) -> tuple[BatchName, ...]:
    """Every batch that can be asked about, those that are out first, the latest on top.

    Raises:
        as `reading`.
    """
    with counting(store, Selection()) as connection:
        return batch_names(connection)


def one_batch(store: Path, batch: str, as_of: date) -> BatchAnswer:
    """Looks at one batch.

    Args:
        store: the store's file.
        batch: its label, compared without case and outer blanks.
        as_of: the day on which a batch in the machine is looked at.

    Raises:
        WrongUsage: no batch of that name; near names are offered.
        as `reading`.
    """
    asked = _ask(store, batch, as_of)
    whole = [one for one in asked.counts if not one.pen]
    species = batch_species(asked.counts, asked.rates)
    hours = batch_hours(asked.head, whole, asked.counted)
    due = () if asked.name.closed else due_days(asked.head, whole, asked.recorded, as_of)
    state = _state(asked, species, due, as_of)
    known = Known(asked.head, species, hours, asked.recorded, asked.pens)
    hatched = state == "hatched"
    return BatchAnswer(
        head=asked.head,
        state=state,
        as_of=as_of,
        species=species,
        hours=hours,
        due=due,
        signs=_signs(store, asked, species, hours) if hatched else (),
        look_now=look_now(known) if hatched else (),
        record_next=record_next(known) if state != "empty" else (),
        others=asked.others if hatched else (),
        words=batch_words(known, state, due, asked.others, as_of),
    )


def _signs(
    store: Path, asked: _Asked, species: Sequence[BatchSpecies], hours: BatchHours
) -> tuple[BatchSign, ...]:
    """What was seen, with what the records of the year say of where it may come from."""
    seen = batch_signs(species, hours, asked.recorded)
    last = asked.name.hatch_on
    if last is None:
        return seen
    return with_evidence(seen, batch_evidence(store, asked.head.batch, last, [sign.sign for sign in seen]))


def _ask(store: Path, batch: str, as_of: date) -> _Asked:
    with counting(store, Selection()) as connection:
        head = choose_batch(connection, batch)
        name = next(one for one in batch_names(connection) if one.batch == head.batch)
        closed = name.closed
        last_day = head.pulled_on.date() if head.pulled_on else as_of
        counted = counted_batches(connection) if closed else ()
        sums = cluster_sums(connection, until=last_day) if closed else {}
        clustering = {measure: estimate_clustering(found) for measure, found in sums.items()}
        ladder = strata(connection, [Span(Period(None, None), each_pen=False)]) if closed else ()
        return _Asked(
            head=head,
            name=name,
            counts=batch_fates(connection),
            rates={one.species: rates(one.families, clustering) for one in ladder},
            counted=counted[0] if counted else None,
            recorded=batch_recorded(connection, head, max(last_day, head.set_on.date())),
            pens=batch_pens(connection, head),
            others=other_batches(connection) if closed else (),
        )


def _state(asked: _Asked, species: Sequence[BatchSpecies], due: Sequence[BatchDue], as_of: date) -> State:
    if not species:
        return "empty"
    if asked.name.closed:
        return "hatched" if any(one.eggs for one in species) else "not_counted"
    return "overdue" if overdue_days(due, as_of) else "in_machine"
