"""What the plans are told in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from analytics.measures.counts import Clustering
from analytics.planning.sample_size import SizeNeeded, SmallestSeen
from analytics.planning.split import Lot, SplitPlan
from analytics.planning.storage_lots import StorageLots
from analytics.values import Base

NO_STORAGE = StorageLots((), 0, ())
"""Storage needs no plan."""


@dataclass(frozen=True, slots=True)
class SizeAsked:
    """What is to be seen, and how eggs would be set.

    Attributes:
        measure: measure word.
        difference: in shares; the poorer pen lies so far off.
        rate: usual rate of the better pen, or None = as the records say.
        power: chance of seeing it.
        tray_eggs: eggs set in a tray, or None = a middling tray of the records.
        trays: trays of each pen in a batch.
        shared: whether the two pens share batches.
        batches: batches for which the smallest difference is asked too, or None.
    """

    measure: str = "hatch_of_set"
    difference: float = 0.1
    rate: float | None = None
    power: float = 0.8
    tray_eggs: int | None = None
    trays: int = 1
    shared: bool = True
    batches: int | None = None


@dataclass(frozen=True, slots=True)
class SizeRow:
    """What one difference takes.

    Attributes:
        difference: in shares.
        needed: batches, trays and eggs that enter the rate.
        eggs_set: eggs to set of each pen, or None.
        independent_set: eggs to set of each pen if every egg stood alone, not rounded, or None.
    """

    difference: float
    needed: SizeNeeded
    eggs_set: int | None
    independent_set: float | None


@dataclass(frozen=True, slots=True)
class AtHand:
    """What the eggs of two pens could have shown.

    Attributes:
        pens: labels.
        eggs: eggs in the rate of each.
        trays: trays of each.
        shared_batches: batches with eggs of both.
        rate: rate from which the difference is taken.
        seen: the smallest differences.
        sentence: in words.
    """

    pens: tuple[str, str]
    eggs: tuple[float, ...]
    trays: tuple[int, ...]
    shared_batches: int
    rate: float
    seen: SmallestSeen
    sentence: str = ""

    def told(self, sentence: str) -> AtHand:
        """The same in words."""
        return replace(self, sentence=sentence)


@dataclass(frozen=True, slots=True)
class SizeWords:
    """The answer in sentences: first the answer, then what stands behind it."""

    sentence: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SizeGround:
    """What a plan starts from.

    Attributes:
        species: key of the species with most eggs in the selection, or "".
        base: what the rate is a share of.
        rate: usual rate.
        rate_from: where it comes from, in words.
        other: rate of the poorer pen.
        tray_eggs: eggs set in a tray.
        entering: of the eggs set, the share that the rate is a share of.
        clustering: how alike eggs are in this store.
    """

    species: str
    base: Base
    rate: float
    rate_from: str
    other: float
    tray_eggs: int
    entering: float
    clustering: Clustering


@dataclass(frozen=True, slots=True)
class SizeAnswer:
    """How many eggs show a difference.

    Attributes:
        asked: the question.
        ground: what the plan starts from.
        needed: the answer.
        rows: other differences.
        smallest: what the batches asked about would show, or None.
        words: in sentences.
        at_hand: what the eggs of the two pens asked about could have shown, or None.
    """

    asked: SizeAsked
    ground: SizeGround
    needed: SizeRow
    rows: tuple[SizeRow, ...]
    smallest: SmallestSeen | None
    words: SizeWords = SizeWords("", ())
    at_hand: AtHand | None = None

    def told(self, words: SizeWords, at_hand: AtHand | None) -> SizeAnswer:
        """The same in words."""
        return replace(self, words=words, at_hand=at_hand)


@dataclass(frozen=True, slots=True)
class DayRange:
    """A stretch of days with where it comes from; both ends included.

    Attributes:
        first: first day, or None where no source tells (then `why` says so).
        last: last day, or None.
        source: who says so.
        why: why there is none; "" otherwise.
    """

    first: date | None
    last: date | None
    source: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class SpeciesDates:
    """The days of one kind of bird.

    Attributes:
        species: key.
        name: its name.
        candle: when to look through the eggs.
        transfer: when to move them to the hatcher.
        hatch: from the first chicks to the last.
        storage_hours: by how many hours storage may delay the hatch, least and most published.
    """

    species: str
    name: str
    candle: DayRange
    transfer: DayRange
    hatch: DayRange
    storage_hours: tuple[float, float]


@dataclass(frozen=True, slots=True)
class DatesAnswer:
    """When to do what with a batch.

    Attributes:
        set_on: day of setting.
        machine: label, or "".
        storage_days: days stored, or None where not said.
        species: one for each kind of bird.
        warnings: what does not go together.
        sentence: the answer in one sentence.
    """

    set_on: date
    machine: str
    storage_days: float | None
    species: tuple[SpeciesDates, ...]
    warnings: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class SplitAsked:
    """What the next set has.

    Attributes:
        seed: of the lots drawn.
        eggs: eggs that wait, by pen; pens left out bring as many as at their last set.
        room: free places, by machine; machines left out have what they hold less what is in them.
        each: eggs of a pen in a foreign machine at least, or None = half a tray, or half of what there is.
        sets: sets like this for which the precision is told.
        storage: whether storage is planned too, where it goes with something else.
        fresh_days: days that the fresh lot of a pen is stored.
        stored_days: days that the lot beside it is kept.
    """

    seed: int
    eggs: Mapping[str, int] = field(default_factory=dict)
    room: Mapping[str, int] = field(default_factory=dict)
    each: int | None = None
    sets: int = 2
    storage: bool = True
    fresh_days: float = 2.0
    stored_days: float = 7.0


@dataclass(frozen=True, slots=True)
class Camp:
    """Pens and machines that met, directly or in a chain.

    Attributes:
        island: its number.
        pens: those with eggs now.
        machines: those at hand.
    """

    island: int
    pens: tuple[str, ...]
    machines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Narrowing:
    """What is open now, and how well it is known after the plan.

    Attributes:
        kind: setter, hatcher or storage.
        between: the two machines, or the days of the two lots.
        pens: whose eggs tell.
        sets: sets like this.
        within: half a 95 % interval of the difference then, in shares of the hatch.
    """

    kind: str
    between: tuple[str, str]
    pens: tuple[str, ...]
    sets: int
    within: float


@dataclass(frozen=True, slots=True)
class SplitAnswer:
    """Who goes where.

    Attributes:
        asked: the question.
        each: eggs of a pen in a foreign machine at least.
        plan: the lots.
        camps: who met whom before.
        within: half a 95 % interval of what the weakest join tells after the sets asked about, in shares of
            the hatch; None where nothing is moved.
        species: key of the birds that are planned for.
        sentence: the answer.
        notes: what stands behind it.
        hatcher_camps: who met whom in the hatchers; () where eggs hatch in the machine they are set in.
        storage: whose eggs are set as two lots, and why.
        narrowing: what comes to be known, one for each join.
    """

    asked: SplitAsked
    each: int
    plan: SplitPlan
    camps: tuple[Camp, ...]
    within: float | None
    species: str
    sentence: str
    notes: tuple[str, ...]
    hatcher_camps: tuple[Camp, ...] = ()
    storage: StorageLots = NO_STORAGE
    narrowing: tuple[Narrowing, ...] = ()

    def told(self, sentence: str, notes: tuple[str, ...]) -> SplitAnswer:
        """The same in words, with the weakest join between machines."""
        joins = [one.within for one in self.narrowing if one.kind != "storage"]
        return replace(self, sentence=sentence, notes=notes, within=max(joins, default=None))

    def days_of(self, lot: Lot) -> float | None:
        """Days that a lot is stored on purpose, or None."""
        if lot.stored is None:
            return None
        return self.asked.stored_days if lot.stored else self.asked.fresh_days
