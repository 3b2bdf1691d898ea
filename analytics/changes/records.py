"""What the effect of a change on one step is told in."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.comparisons.slope_records import OddsRatio


@dataclass(frozen=True, slots=True)
class SideRate:
    """The plain rate of the trays of one side of one group.

    Attributes:
        eggs: eggs that entered the step; need not be whole where eggs were shared out.
        passed: eggs that passed it.
        trays: trays.
        rate: passed of entered, 0..1, or None without eggs.
        low: lower end of its 95 % interval, trays that share something allowed for, or None.
        high: upper end, or None.
    """

    eggs: float
    passed: float
    trays: int
    rate: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Sides:
    """The four rates behind a difference in differences.

    Attributes:
        before: what was changed, before.
        after: what was changed, after.
        controls_before: what was left as it was, before.
        controls_after: what was left as it was, after.
    """

    before: SideRate
    after: SideRate
    controls_before: SideRate
    controls_after: SideRate

    def in_order(self) -> tuple[SideRate, SideRate, SideRate, SideRate]:
        """Before, after, and the same of the controls."""
        return self.before, self.after, self.controls_before, self.controls_after

    def plain_difference(self) -> float | None:
        """The difference in differences of the four plain rates, or None where one is missing."""
        rates = [side.rate for side in self.in_order()]
        if any(rate is None for rate in rates):
            return None
        before, after, controls_before, controls_after = (rate or 0.0 for rate in rates)
        return difference_in_differences(before, after, controls_before, controls_after)


def difference_in_differences(
    before: float, after: float, controls_before: float, controls_after: float
) -> float:
    """How much more one group moved than the other, in the unit of the four means."""
    return (after - before) - (controls_after - controls_before)


@dataclass(frozen=True, slots=True)
class StepEffect:
    """What a change did to the rate of passing one step.

    Attributes:
        sides: the four plain rates.
        difference: after less before, against the controls, in shares, or None.
        low: lower end of its 95 % interval, or None.
        high: upper end, or None.
        p_value: two-sided, that the change did nothing to this step, or None.
        dof: degrees of freedom of the test, or None.
        odds: the same as an odds ratio of passing, or None where it cannot be had.
        why: why there is no difference; "" otherwise.
    """

    sides: Sides
    difference: float | None
    low: float | None
    high: float | None
    p_value: float | None
    dof: float | None
    odds: OddsRatio | None
    why: str

    @classmethod
    def missing(cls, sides: Sides, why: str) -> StepEffect:
        """An effect that cannot be told."""
        return cls(sides, None, None, None, None, None, None, why)

    def known(self) -> tuple[float, float, float, float]:
        """Lower end, difference, upper end and p-value of an effect that is there."""
        assert self.low is not None
        assert self.difference is not None
        assert self.high is not None
        assert self.p_value is not None
        return self.low, self.difference, self.high, self.p_value
