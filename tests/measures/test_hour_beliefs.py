"""Beliefs of hours: sums and differences against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.measures.hour_beliefs import STEP, HourBelief, uniform


def _normal(middle: float, spread: float) -> HourBelief:
    hours = np.arange(np.floor(middle - 8 * spread), middle + 8 * spread, STEP)
    chances = np.exp(-0.5 * ((hours - middle) / spread) ** 2)
    return HourBelief(float(hours[0]), chances / chances.sum())


def test_quantiles_of_even_chances() -> None:
    belief = uniform(384, 432)
    for share in (0.025, 0.25, 0.5, 0.975):
        assert belief.quantile(share) == pytest.approx(384 + share * 48, abs=0.01)
    assert uniform(7, 7).quantile(0.5) == pytest.approx(7)


def test_difference_of_normals_is_normal() -> None:
    # means subtract, variances add: 3, 4, 5
    difference = _normal(410, 3).minus(_normal(400.25, 4))
    assert difference.quantile(0.5) == pytest.approx(9.75, abs=0.02)
    assert difference.quantile(0.975) - 9.75 == pytest.approx(1.96 * 5, abs=0.05)
    assert difference.chances.sum() == pytest.approx(1)


def test_widened_keeps_the_middle() -> None:
    plain = _normal(10, 3)
    wide = plain.widened(12)
    assert wide.quantile(0.5) == pytest.approx(10, abs=0.02)
    # variance 9 and 12^2 / 12
    hours = wide.start + STEP * np.arange(len(wide.chances))
    variance = wide.chances @ hours**2 - (wide.chances @ hours) ** 2
    assert variance == pytest.approx(9 + 144 / 12, rel=0.02)
    assert plain.widened(0).quantile(0.9) == pytest.approx(plain.quantile(0.9))
