"""Pen against pen where eggs of a tray and trays of a batch are alike: the F test that decides.

The rates of trays are a linear mixed model: pens and machines fixed, batches random, and a tray's own
variance grows with 1 + (eggs - 1) rho over its eggs. Batches being random, pens that met in few batches are
still compared; the degrees of freedom allow for how well the variances are known. The model itself, with
storage and with eggs that were shared out, is `pen_model`; this is its test for whole counts.
"""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import ArrayLike

from analytics.comparisons.counts import trays_of
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.overdispersion import Labels
from analytics.comparisons.pen_model import pen_model


@dataclass(frozen=True, slots=True)
class ClusteredTest:
    """The test of pens and the variances behind it.

    Attributes:
        test: F with its degrees of freedom.
        tray_rho: correlation of two eggs of a tray beyond their batch, 0..0.95; None without a test.
        batch_variance: variance of batches' rates, or None.
        trays: trays used.
        batches: batches used.
    """

    test: HypothesisTest
    tray_rho: float | None
    batch_variance: float | None
    trays: int
    batches: int


def clustered_test(
    passed: ArrayLike, eggs: ArrayLike, pen: Labels, batch: Labels, *others: Labels
) -> ClusteredTest:
    """Tests whether pens differ, with trays and batches allowed for.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        pen: pen of each tray.
        batch: batch of each tray.
        others: further factors whose effects are taken out (machine).

    Returns:
        The test. Sources: Kenward and Roger 1997, Biometrics 53:983-997; rho as in Williams 1982, so that the
        spread of trays equals the one found.
    """
    trays = trays_of(passed, eggs, pen, batch, *others)
    pen_code, batch_code, *other_codes = trays.codes
    model = pen_model(trays.passed, trays.eggs, pen_code, batch_code, other_codes)
    return ClusteredTest(
        model.test, model.tray_rho, model.batch_variance, len(trays.eggs), len(trays.levels[1])
    )
