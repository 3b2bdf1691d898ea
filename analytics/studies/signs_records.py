"""What the study of signs answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.studies.hygiene import HygieneAnswer
from analytics.studies.shells import ShellsAnswer


@dataclass(frozen=True, slots=True)
class SignShare:
    """Eggs that show a sign.

    Attributes:
        seen: eggs that show it; not whole where eggs of unknown stage were shared out.
        eggs: eggs looked at.
        base: what they are a share of, such as "of fertile".
        low: lower end of the 95 % interval of the share, 0..1.
        high: upper end.
        batches: batches that they are from.
        who: whose eggs these are, in words.
    """

    seen: float
    eggs: float
    base: str
    low: float
    high: float
    batches: int
    who: str

    @property
    def rate(self) -> float:
        """The share, 0..1."""
        return self.seen / self.eggs


@dataclass(frozen=True, slots=True)
class SignCandidate:
    """One thing that a sign may come from.

    Attributes:
        cause: in words.
        group: flock, handling or incubator.
        for_: what speaks for it in this farm's records, a sentence each; `for` in JSON.
        against: what speaks against it.
        group_for: what speaks for all of its group's causes alike, and so for none of them above another.
        group_against: what speaks against all of them.
        next_check: the check that would tell most.
        source: where the candidate is from, in words.
        source_ids: the same, as ids of the page Sources.
        strength: measured, sheet, contested or memory: what speaks for it before these records.
        note: what must be said with it, "" where nothing must.
        missing: what would tell and is not written down, in words.
    """

    cause: str
    group: str
    for_: tuple[str, ...]
    against: tuple[str, ...]
    group_for: tuple[str, ...]
    group_against: tuple[str, ...]
    next_check: str
    source: str
    source_ids: tuple[str, ...]
    strength: str
    note: str
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign that stands out at a machine, a pen or a batch.

    Attributes:
        species: key.
        placed: incubator, pen or batch.
        level: its label.
        sign: word of the sign.
        name: the sign in words.
        share: the eggs that show it.
        others: the eggs it is held against, or None where only a published figure is.
        mark: published share above which to look further, or None.
        sentence: the sign in a sentence, with its numbers.
        candidates: the likeliest first; at most five.
        left: further candidates of the table that are not shown.
        standing: `above_own`, `above_published`, `ledger` (the ledger of losses finds it), or `one_batch`:
            seen in one batch, no finding.
    """

    species: str
    placed: str
    level: str
    sign: str
    name: str
    share: SignShare
    others: SignShare | None
    mark: float | None
    sentence: str
    candidates: tuple[SignCandidate, ...]
    left: int
    standing: str

    @property
    def seen(self) -> float:
        """Eggs that show it."""
        return self.share.seen

    @property
    def eggs(self) -> float:
        """Eggs looked at."""
        return self.share.eggs

    def said_of(self, group: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What speaks for and what against all of a group's causes alike, to be said once."""
        first = next(one for one in self.candidates if one.group == group)
        return first.group_for, first.group_against

    @property
    def groups(self) -> tuple[str, ...]:
        """The groups of its candidates, the likeliest first."""
        return tuple(dict.fromkeys(one.group for one in self.candidates))


@dataclass(frozen=True, slots=True)
class SignsAnswer:
    """What opened eggs and hatches show, and what it may come from.

    Attributes:
        signs: the most telling first; at most `MOST_SIGNS`.
        more: signs that stand out and are not among them.
        looked_at: names of the signs that the records tell, in words.
        not_recorded: what the records do not tell, a sentence each.
        rule: when a sign is called seen, in words.
        cautions: the usual care, a sentence each; empty where none came up.
        shells: shells and water, species by species.
        cleaning: losses against the days since cleaning, likewise.
    """

    signs: tuple[Sign, ...]
    more: int
    looked_at: tuple[str, ...]
    not_recorded: tuple[str, ...]
    rule: str
    cautions: tuple[str, ...]
    shells: tuple[ShellsAnswer, ...] = ()
    cleaning: tuple[HygieneAnswer, ...] = ()
