"""What the study of one batch answers with: plain frozen records that pages, reports and JSON read.

No record here holds a test: one batch cannot tell causes apart, and what it shows are counts and candidates.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from analytics.measures.hatch_timing import HatchOffset, HatchWindow
from analytics.store.batch import BatchHead, OtherBatches
from analytics.studies.records import Rates
from analytics.values import Interval

State = Literal["hatched", "not_counted", "in_machine", "overdue", "empty"]
"""Out with its hatch; out without one written down; in the machine; past its time; without a tray."""


@dataclass(frozen=True, slots=True)
class EggShare:
    """Eggs counted among eggs.

    Attributes:
        count: eggs counted.
        eggs: eggs they are a share of.
        share: count / eggs, 0..1.
        interval: Wilson's, every egg its own trial; where eggs are left open, from none to all of them in it.
        left_open: eggs that may belong to it too, for nothing tells.
    """

    count: int
    eggs: int
    share: float
    interval: Interval
    left_open: int


@dataclass(frozen=True, slots=True)
class BatchFate:
    """One thing that became of eggs.

    Attributes:
        fate: its word.
        name: in words.
        share: the eggs, of those set in trays whose hatch is written down.
    """

    fate: str
    name: str
    share: EggShare


@dataclass(frozen=True, slots=True)
class PublishedBeside:
    """A published figure, and this batch's on the same base.

    Attributes:
        measure: measure word.
        name: in words.
        base: what both are shares of.
        low: lower end of the published figure, 0..1.
        high: upper end.
        as_printed: in the source's own terms.
        source: the source, with how it was read.
        note: what else must be said, or "".
        own: this batch's share, or None where the records leave a range only or nothing.
        own_low: lower end of its range, or None.
        own_high: upper end.
        stands: where the batch's range lies: below, above, around (the figure is within it) or not_known.
    """

    measure: str
    name: str
    base: str
    low: float
    high: float
    as_printed: str
    source: str
    note: str
    own: float | None
    own_low: float | None
    own_high: float | None
    stands: Literal["below", "above", "around", "not_known"]


@dataclass(frozen=True, slots=True)
class BatchPen:
    """One pen's eggs in the batch.

    Attributes:
        pen: label.
        eggs_set: eggs set.
        hatch: chicks of the eggs set, or None where no hatch is written down.
        without: eggs without development, infertile or clear, or None likewise.
    """

    pen: str
    eggs_set: int
    hatch: EggShare | None
    without: EggShare | None


@dataclass(frozen=True, slots=True)
class BatchSpecies:
    """The eggs of one species in the batch.

    Attributes:
        species: key.
        eggs_set: eggs set.
        eggs: those in trays whose hatch is written down.
        hatch: chicks, kept or not, of the eggs set; None where no hatch is written down.
        without: eggs without development, infertile or clear, of the eggs set; None likewise.
        fates: what became of the eggs; they add up to `eggs`.
        rates: the rates of the ladder as the month's review has them; empty while it is in the machine.
        published: published figures of the bird, with this batch's beside them.
        published_note: said where none was found published, else "".
        storage: fewest, mean and most days stored, or None.
        trays_without_storage: trays whose days of storage are not written down.
        pens: by label.
    """

    species: str
    eggs_set: int
    eggs: int
    hatch: EggShare | None
    without: EggShare | None
    fates: tuple[BatchFate, ...]
    rates: Rates
    published: tuple[PublishedBeside, ...]
    published_note: str
    storage: tuple[float, float, float] | None
    trays_without_storage: int
    pens: tuple[BatchPen, ...]

    def eggs_of(self, *fates: str) -> int:
        """Eggs of some fates together."""
        return sum(fate.share.count for fate in self.fates if fate.fate in fates)


@dataclass(frozen=True, slots=True)
class ExpectedHours:
    """When a hatch is expected, hours from setting, after published figures.

    Attributes:
        begin: the first chicks, by the source with the fewest days.
        bulk_from: the middle of the hatch, earliest.
        bulk_to: the middle of the hatch, latest, with what storage may add.
        end: the last chicks, by the source with the most days, with what storage may add.
        storage_hours: what the days of storage may add, least and most.
        as_printed: the figures with their sources, a line each.
    """

    begin: float
    bulk_from: float
    bulk_to: float
    end: float
    storage_hours: tuple[float, float]
    as_printed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BatchHours:
    """When the batch hatched, against the hours expected; day 0 is the hour of setting.

    Attributes:
        expected: after published figures, or None where the bird's days are not known, or birds are mixed.
        window: first, middle and last chick by the counts made, or None.
        offset: how far its middle is from the published hours, or None.
        pulled: hours from setting until it was taken out, or None where an hour is missing.
        stands: early, late, inside (not to be told from the published hours) or not_known.
        why: why the hours cannot be read, or "".
        sentences: the answer in words.
    """

    expected: ExpectedHours | None
    window: HatchWindow | None
    offset: HatchOffset | None
    pulled: float | None
    stands: Literal["early", "late", "inside", "not_known"]
    why: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BatchDue:
    """What is due while a batch is in the machine.

    Attributes:
        what: candling, transfer or hatch.
        name: in words.
        species: key.
        first: first day.
        last: last day.
        days: the days of incubation, in words.
        source: who says so, with how it was read.
        state: done, now, ahead or past.
    """

    what: str
    name: str
    species: str
    first: date
    last: date
    days: str
    source: str
    state: Literal["done", "now", "ahead", "past"]


@dataclass(frozen=True, slots=True)
class BatchCandidate:
    """One thing that a sign may come from.

    Attributes:
        cause: in words.
        group: flock, handling or incubator.
        support: what speaks for it before these records: measured, sheet, contested or memory.
        for_: what in these records speaks for it; `for` in JSON.
        against: what speaks against it.
        next_check: what to look at.
        source: the sources, with how they were read.
        note: what must be said with it, or "".
        missing: what would tell and is not written down.
    """

    cause: str
    group: str
    support: str
    for_: tuple[str, ...]
    against: tuple[str, ...]
    next_check: str
    source: str
    note: str
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BatchSign:
    """Something the opened eggs or the hours show.

    Attributes:
        species: key.
        sign: its word.
        name: in words.
        share: the eggs that show it, or None for a sign of the hours.
        candidates: what it may come from: what most speaks for first, else in the order in which to look.
        sentence: what was seen, in words.
    """

    species: str
    sign: str
    name: str
    share: EggShare | None
    candidates: tuple[BatchCandidate, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Advice:
    """Something to look at, or to write down or do next time.

    Attributes:
        what: what to do.
        why: what it would tell.
        where: sheet and columns to write it in, or "".
    """

    what: str
    why: str
    where: str = ""


@dataclass(frozen=True, slots=True)
class BatchWords:
    """The answer in words.

    Attributes:
        sentences: the answer, the first sentence first.
        warnings: what makes this batch hard to read.
        cannot_tell: what one batch cannot tell, and why.
        cautions: the usual care, where it applies.
        made: how the numbers were made.
    """

    sentences: tuple[str, ...]
    warnings: tuple[str, ...]
    cannot_tell: tuple[str, ...]
    cautions: tuple[str, ...]
    made: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BatchAnswer:
    """One batch.

    Attributes:
        head: the batch as it is written down.
        state: whether it is out, and counted.
        as_of: the day asked about.
        species: most eggs first.
        hours: when it hatched.
        due: what is due next; empty once it is out.
        signs: what opened eggs and hours show, most eggs first.
        look_now: what to look at now.
        record_next: what to write down, or set otherwise, next time.
        others: how the farm's other batches hatched, together.
        words: the answer in words.
    """

    head: BatchHead
    state: State
    as_of: date
    species: tuple[BatchSpecies, ...]
    hours: BatchHours
    due: tuple[BatchDue, ...]
    signs: tuple[BatchSign, ...]
    look_now: tuple[Advice, ...]
    record_next: tuple[Advice, ...]
    others: tuple[OtherBatches, ...]
    words: BatchWords
