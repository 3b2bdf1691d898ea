"""The one shape in which every test of a hypothesis is handed on."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HypothesisTest:
    """What a test of a hypothesis found, or why it found nothing.

    Attributes:
        method: the test in words, with every choice that changes the number named.
        statistic: the test statistic, or None.
        dof: degrees of freedom (of the numerator for F), or None where the test has none.
        dof2: degrees of freedom of the denominator for F, or None.
        p_value: 0..1, two-sided unless `method` says otherwise, or None.
        why: why there is no value, or what the reader must know; "" otherwise.
    """

    method: str
    statistic: float | None
    dof: float | None
    dof2: float | None
    p_value: float | None
    why: str

    @classmethod
    def missing(cls, method: str, why: str) -> HypothesisTest:
        """A test that could not be made."""
        return cls(method, None, None, None, None, why)

    @classmethod
    def chi_square(cls, method: str, statistic: float, dof: int, why: str = "") -> HypothesisTest:
        """A statistic referred to the chi-square distribution."""
        from scipy.special import chdtrc

        return cls(method, float(statistic), dof, None, float(chdtrc(dof, statistic)), why)

    @classmethod
    def f_ratio(cls, method: str, statistic: float, dof: float, dof2: float, why: str = "") -> HypothesisTest:
        """A statistic referred to the F distribution."""
        from scipy.special import fdtrc

        return cls(method, float(statistic), dof, dof2, float(fdtrc(dof, dof2, statistic)), why)

    def stretched(self, factor: float) -> HypothesisTest:
        """An F test with both degrees of freedom times a factor; one that could not be made stays so."""
        if self.statistic is None or self.dof is None or self.dof2 is None:
            return self
        return HypothesisTest.f_ratio(
            self.method, self.statistic, self.dof * factor, self.dof2 * factor, self.why
        )
