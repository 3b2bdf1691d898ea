"""What the rules of signs are told, and what they answer: counts, comparisons and conditions of one place.

A place is a machine, a pen or a batch. None always means: not recorded. Nothing here is a finding: a sign is
what is seen, a cause is a candidate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from analytics.reference.signs import CandidateCause

OF_CAUSE = ("grows_with_storage", "not_with_storage", "grows_with_feed", "not_with_feed")
"""Codes of evidence on eggs elsewhere that is about one cause."""


class Placed(StrEnum):
    """What a sign is asked of."""

    INCUBATOR = "incubator"
    PEN = "pen"
    BATCH = "batch"


@dataclass(frozen=True, slots=True)
class Share:
    """Eggs that show a sign among the eggs that were looked at.

    Attributes:
        seen: eggs that show it; not whole where eggs of unknown stage were shared out.
        eggs: eggs looked at.
        batches: batches they are from.
        low: lower end of the 95 % interval, trays and batches allowed for.
        high: upper end.
        worth: independent eggs that they are worth.
    """

    seen: float
    eggs: float
    batches: int
    low: float
    high: float
    worth: float

    @property
    def rate(self) -> float:
        """The share, 0..1."""
        return self.seen / self.eggs


@dataclass(frozen=True, slots=True)
class Condition:
    """Something measured or noted of the place's batches, beside the same of the others.

    Attributes:
        own: mean over the place's batches (or samples), in the unit of the word.
        others: mean over the others, or None without any.
        low: lower end of the 95 % interval of own less others, or None where batches are too few.
        high: upper end, or None.
        batches: batches (or samples) of the place.
        other_batches: batches of the others.
        published_low: lower end of what sources advise or measured, or None where none was found.
        published_high: upper end, or None.
    """

    own: float
    others: float | None = None
    low: float | None = None
    high: float | None = None
    batches: int = 1
    other_batches: int = 0
    published_low: float | None = None
    published_high: float | None = None

    @property
    def is_more(self) -> bool:
        """Whether it is surely more than at the others."""
        return self.low is not None and self.low > 0

    @property
    def is_less(self) -> bool:
        """Whether it is surely less than at the others."""
        return self.high is not None and self.high < 0

    @property
    def is_above(self) -> bool:
        """Whether it lies above what is published."""
        return self.published_high is not None and self.own > self.published_high

    @property
    def is_below(self) -> bool:
        """Whether it lies below what is published."""
        return self.published_low is not None and self.own < self.published_low


@dataclass(frozen=True, slots=True)
class Comparisons:
    """The same sign elsewhere; None = nothing to compare with.

    Attributes:
        usual: what the place is held against: other machines, the other pens of the same batches, or the
            other batches.
        rest: the place without its worst pen (of a machine or batch) or without its worst machine (of a pen).
        worst: name of that pen or machine, "" where there is no other.
        elsewhere: the same pens in other machines; of a pen None.
        other_machines: the other machines in the same weeks; of a pen None.
        stored: trays of the place's pens stored longer than their pen's middle one, and the others.
        fed: trays of the pen on another feed than the usual one, and its trays on the usual one.
        feed: what that other feed is called.
    """

    usual: Share | None = None
    rest: Share | None = None
    worst: str = ""
    elsewhere: Share | None = None
    other_machines: Share | None = None
    stored: tuple[Share, Share] | None = None
    fed: tuple[Share, Share] | None = None
    feed: str = ""


@dataclass(frozen=True, slots=True)
class LedgerSays:
    """A loss that the ledger finds clear or likely in the step that a sign belongs to.

    Attributes:
        group: flock, handling, incubator, or shared where it cannot tell them apart.
        factor: pen, incubator, hatcher, storage and so on.
        level: the pen or machine, "" for a number such as days of storage.
        step: the step.
        strength: clear or likely.
        is_here: whether the level is the place itself, or a pen or machine with eggs in it.
        is_place: whether it is the place itself, or the feed of a pen.
        sentence: the ledger's own words.
    """

    group: str
    factor: str
    level: str
    step: str
    strength: str
    is_here: bool
    is_place: bool = False
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """All that the rules know of one sign at one place.

    Attributes:
        sign: word of the sign.
        placed: what the place is.
        level: its name.
        own: the eggs that show it.
        comparisons: the same sign elsewhere.
        conditions: word -> condition, only those recorded; the words are `CONDITIONS`.
        ledger: what the ledger of the period says of the sign's step.
        places: places that were compared, all signs together; how sure a sign must be follows from it.
        mark: published share above which to look further, or None where none was found.
        is_apart: whether pens and machines of the place also met others, so that they can be told apart.
    """

    sign: str
    placed: Placed
    level: str
    own: Share
    comparisons: Comparisons
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    ledger: tuple[LedgerSays, ...] = ()
    places: int = 1
    mark: float | None = None
    is_apart: bool = True


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing that speaks for or against a candidate, as a code with its numbers.

    Attributes:
        code: which kind; words are made elsewhere.
        weight: how much it counts in the order, above 0.
        share: the eggs meant, or None.
        condition: the condition meant, or None.
        word: the condition's word, the pen, machine or feed meant, or "".
        beside: the eggs these are held against, where they are not the place's own.
        says: the ledger's line meant, or None.
    """

    code: str
    weight: int
    share: Share | None = None
    condition: Condition | None = None
    word: str = ""
    beside: Share | None = None
    says: LedgerSays | None = None

    @property
    def is_of_group(self) -> bool:
        """Whether it is about the group (flock, handling, machine) and not about one cause of it."""
        return self.condition is None and self.code not in OF_CAUSE


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that a sign may come from, with what this farm's records say.

    Attributes:
        cause: the row of the table, with source and next check.
        for_: what speaks for it.
        against: what speaks against it.
        missing: words of what is not recorded and would tell.
        notes: codes of what must be said with it.
    """

    cause: CandidateCause
    for_: tuple[Evidence, ...]
    against: tuple[Evidence, ...]
    missing: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def score(self) -> int:
        """What speaks for it less what speaks against it."""
        return sum(one.weight for one in self.for_) - sum(one.weight for one in self.against)
