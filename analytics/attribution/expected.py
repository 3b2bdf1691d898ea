"""What typical trays would have passed, tray by tray, and how far chance and trays' own noise carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from analytics.attribution.draws import Draws
from analytics.attribution.layout import Floats
from analytics.attribution.shares import NO_LEVELS, NODES, WEIGHTS, parts_of
from analytics.attribution.terms import Terms, Trays

HANDLING = "handling"


@dataclass(frozen=True, slots=True)
class Expected:
    """The rate of typical trays that were stored as these were.

    Attributes:
        mean: its mean over trays' own noise, shape (trays,).
        square: mean of its square, likewise.
    """

    mean: Floats
    square: Floats

    def variance(self, eggs: Floats) -> Floats:
        """Variance of how many of these eggs pass: binomial at a rate that varies from tray to tray."""
        spread = np.maximum(self.square - self.mean**2, 0.0)
        return np.asarray(eggs * (self.mean - self.square) + eggs**2 * spread)


def expected(trays: Trays, terms: Sequence[Terms], drawn: Sequence[Draws]) -> tuple[Expected, ...]:
    """Of the whole way first, then of each step, at the means of the draws.

    Typical are pen, machine, batch and month; what handling does is part of what is expected, where it can be
    told from them. The noises of the steps of one tray are independent in the model.

    Args:
        trays: the trays.
        terms: what each step is explained by.
        drawn: draws of each step.
    """
    steps = [
        _of_step(term, one, trays.entering(at) > 0)
        for at, (term, one) in enumerate(zip(terms, drawn, strict=True))
    ]
    mean = np.prod([one.mean for one in steps], axis=0)
    square = np.prod([one.square for one in steps], axis=0)
    return Expected(mean, square), *steps


def _of_step(terms: Terms, drawn: Draws, used: np.ndarray) -> Expected:
    typical, parts = parts_of(terms, drawn, used)
    eta = np.full(len(used), float(typical.eta.mean()))
    for part in parts:
        if part.group == HANDLING and part.levels == NO_LEVELS:
            eta += part.table @ part.values.mean(axis=0)
    rates = expit(eta[:, None] + float(typical.noise.mean()) * NODES)
    return Expected(rates @ WEIGHTS, rates**2 @ WEIGHTS)
