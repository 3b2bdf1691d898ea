"""What the question about changes answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from analytics.changes.records import StepEffect
from analytics.changes.verdict import Judged, Verdict
from analytics.options import Selection

Scope = Literal["pen", "storage", "incubator", "all"]
Kind = Literal["diet", "male", "machine", "storage", "other"]


@dataclass(frozen=True, slots=True)
class Event:
    """One dated change, whatever number of pens or machines it touched.

    Attributes:
        first_day: the day, the first one where its targets differ by a day or more.
        last_day: the last such day.
        scope: pen, storage, incubator or all.
        targets: labels of the pens or machines; () = all of them.
        what: what was changed, as the keeper wrote it, else what the sheet of diets says.
        detail: what the sheet of diets says besides, or "".
        kind: how its eggs are told apart.
        lag_days: days after it in which an egg belongs to neither side.
    """

    first_day: date
    last_day: date
    scope: Scope
    targets: tuple[str, ...]
    what: str
    detail: str
    kind: Kind
    lag_days: int = 0


@dataclass(frozen=True, slots=True)
class StepAnswer:
    """One step of the ladder.

    Attributes:
        step: fertile, early, mid, late or shell; hatch where stages are not written down.
        effect: rates of passing and the difference in differences.
        judged: the verdict.
        opened: first month after the largest break of the gap to the untouched ones, or None.
    """

    step: str
    effect: StepEffect
    judged: Judged
    opened: date | None = None

    @property
    def verdict(self) -> Verdict:
        """better, worse, no_clear_change or cannot_tell."""
        return self.judged.verdict


@dataclass(frozen=True, slots=True)
class Compared:
    """What was held against what.

    Attributes:
        controls: pens or machines that it did not touch, with eggs on both sides.
        held: what was held equal: "batch", "machine and month", "month and pen", or "" without a comparison.
        trays: trays compared.
        first_day: first day of lay (for machines, of setting) among them, or None.
        last_day: last such day, or None.
        left_trays: trays left out because their eggs straddle the date or the days after it.
        left_eggs: their eggs.
        undated_trays: trays left out because nothing tells on which days their eggs were laid.
        why: why nothing can be told, as a sentence; "" where it can.
        settle: what would settle it next time; "" where it can be told.
    """

    controls: tuple[str, ...] = ()
    held: str = ""
    trays: int = 0
    first_day: date | None = None
    last_day: date | None = None
    left_trays: int = 0
    left_eggs: float = 0.0
    undated_trays: int = 0
    why: str = ""
    settle: str = ""


@dataclass(frozen=True, slots=True)
class ChangeAnswer:
    """Whether one change worked.

    Attributes:
        event: the change.
        compared: against what.
        steps: step by step.
        sentence: the answer in a sentence.
        notes: what else to know, in sentences.
    """

    event: Event
    compared: Compared
    steps: tuple[StepAnswer, ...]
    sentence: str
    notes: tuple[str, ...]

    def with_verdict(self, *verdicts: Verdict) -> tuple[StepAnswer, ...]:
        """Steps with one of these verdicts."""
        return tuple(step for step in self.steps if step.verdict in verdicts)

    @property
    def tested(self) -> int:
        """Steps that were tested."""
        return sum(step.effect.p_value is not None for step in self.steps)


@dataclass(frozen=True, slots=True)
class MadeUp:
    """The same test on dates on which nothing was written down.

    Attributes:
        dates: how many made-up changes.
        cried: how many of them the test called better or worse in some step.
        called: pen, date and step of those.
    """

    dates: int
    cried: int
    called: tuple[tuple[str, date, str], ...]


@dataclass(frozen=True, slots=True)
class ChangesAnswer:
    """All dated changes of a selection.

    Attributes:
        selection: the filters.
        changes: by date.
        made_up: the check of the level.
        steps: names of the steps, in their order.
        sentence: the answer in a sentence.
        notes: what holds for all of them.
        fertile_days: species -> days after a change of males in which the sire is open.
    """

    selection: Selection
    changes: tuple[ChangeAnswer, ...]
    made_up: MadeUp
    steps: tuple[str, ...]
    sentence: str
    notes: tuple[str, ...]
    fertile_days: Mapping[str, int] = field(default_factory=dict)
