"""What the study of trends answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.slope_records import CurvePoint, Slope
from analytics.options import Selection
from analytics.values import Base, Used

Along = Literal["hen_age", "storage", "month", "males_per_female"]


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """Trays of about the same x together, all pens.

    Attributes:
        x: their mean x, weighted by eggs.
        label: the group in words.
        eggs: eggs in the denominator; the middle where clear eggs leave two ends, like `count` and `rate`.
        count: eggs in the numerator.
        rate: 0..1.
        low: lower end of the 95 % interval, for trays and batches and for what clear eggs leave open.
        high: upper end.
        possible_low: the rate at the lower end of what clear eggs leave open.
        possible_high: at the upper end.
        trays: trays.
        batches: batches.
    """

    x: float
    label: str
    eggs: float
    count: float
    rate: float
    low: float
    high: float
    possible_low: float
    possible_high: float
    trays: int
    batches: int


@dataclass(frozen=True, slots=True)
class TrendTests:
    """The tests side by side.

    Attributes:
        independent: Cochran-Armitage as if every egg were independent; shown, never decided by.
        method: the model behind the slope that decides, in words.
        decides: "within_pens"; "between_pens" where x never varies within a pen; "" where there is no slope.
        clustered: the slope that decides; where clear eggs leave two ends, the larger p, the wider interval.
        ends: that slope with every clear egg infertile and with none; one slope where nothing is open.
        bend: F test that the smooth curve is straight; the larger p of two ends.
    """

    independent: HypothesisTest
    method: str
    decides: Literal["within_pens", "between_pens", ""]
    clustered: Slope
    ends: tuple[Slope, ...]
    bend: HypothesisTest


@dataclass(frozen=True, slots=True)
class TrendSlopes:
    """The slopes apart; each in shares per unit of x.

    Attributes:
        within_pens: with pens and machines held equal.
        same_batch: within pens and among trays of one batch; missing for hen age and month.
        between_pens: how pens' own rates go with their own mean x; missing for month.
    """

    within_pens: Slope
    same_batch: Slope
    between_pens: Slope


@dataclass(frozen=True, slots=True)
class ChangeMark:
    """A dated change for the picture.

    Attributes:
        changed_on: the day.
        x: where it stands along x; None unless x is time.
        scope: pen, storage, incubator or all.
        target: which pen or machine, or "".
        what: what was changed.
    """

    changed_on: date
    x: float | None
    scope: str
    target: str
    what: str


@dataclass(frozen=True, slots=True)
class TrendWords:
    """The answer in words.

    Attributes:
        sentence: the answer.
        notes: what the answer rests on, and what cannot be told apart.
        why: why there is no slope; "" where there is one.
    """

    sentence: str
    notes: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class TrendAnswer:
    """How a rate goes with hen age, storage, time or males per female.

    Attributes:
        measure: one of the fixed measure words.
        by: what x is: days of storage, weeks of age, months, or males per female.
        base: what the measure is a share of.
        selection: the filters it was asked with.
        first_day: the day at which x is 0 where x is months of 365.25/12 days; None otherwise.
        points: by x.
        tests: the tests.
        slopes: the slopes apart.
        curve: the smooth curve with its pointwise 95 % band, over the range of the data.
        changes: dated changes.
        used: trays and batches; left out are those whose x is not recorded.
        words: the answer in words.
    """

    measure: str
    by: Along
    base: Base
    selection: Selection
    first_day: date | None
    points: tuple[TrendPoint, ...]
    tests: TrendTests
    slopes: TrendSlopes
    curve: tuple[CurvePoint, ...]
    changes: tuple[ChangeMark, ...]
    used: Used
    words: TrendWords
