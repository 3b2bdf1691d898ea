"""Whether two pens are told apart as often as the plan says, by the test that decides between pens.

    python tests/simulation/two_pens.py [--runs N] [--only TEXT ...] [--write]

Prints a line per layout: the share of farms in which the mixed model of `analytics.comparisons.pen_model`
calls the difference at 5 %, less the power that `analytics.planning` says beforehand. Exits 1 when the two
are more than 3 points apart; 2,000 runs have a chance error of about 1. `--write` puts the figures into
two_pens.csv.

Eggs of a tray are alike as the plan takes it: the batch's rate is beta about its pen's, the same quantile for
both pens, and the tray's is beta about its batch's.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from analytics.comparisons.pen_model import pen_model  # isort: skip  (before numpy: one BLAS thread)
from analytics.measures.counts import Clustering
from analytics.planning.sample_size import Layout
from analytics.planning.two_pens import TwoPens, power

import numpy as np  # isort: skip
from figures import Figures, Row, run
from scipy.special import betaincinv

SEED = 20261125
APART = 0.03
COLUMNS = ("layout", "planned", "seen", "difference", "error", "runs", "lowest", "highest")
FIGURES = Figures(
    Path(__file__).with_suffix(".csv"),
    ("layout",),
    COLUMNS,
    "difference",
    f"seed {SEED}; tests at 0.05; difference = seen less planned",
    band=0.0,
)


@dataclass(frozen=True, slots=True)
class Plan:
    """Two pens, how their eggs are set, and how alike these are."""

    trays: TwoPens
    rates: tuple[float, float]
    rho_tray: float
    rho_batch: float

    @property
    def clustering(self) -> Clustering:
        """As the plan is given it."""
        return Clustering(self.rho_tray, self.rho_batch, 0.0, 0.0, False)


def cells() -> dict[str, Plan]:
    """Every layout by name."""
    shared, apart = Layout(24), Layout(24, shared=False)
    uneven = np.random.default_rng(SEED)
    pen, batch = np.repeat([0, 1], (20, 12)), np.concatenate((np.arange(20), np.arange(10, 22)))
    at_hand = TwoPens.of(uneven.integers(8, 41, 32), pen, batch)
    return {
        "12 shared, r .05/.03, .80 v .65": Plan(shared.laid_out(12), (0.8, 0.65), 0.05, 0.03),
        "12 shared, r .10/.03, .80 v .60": Plan(shared.laid_out(12), (0.8, 0.6), 0.1, 0.03),
        "12 shared, r .10/.08, .80 v .65": Plan(shared.laid_out(12), (0.8, 0.65), 0.1, 0.08),
        "12 shared, r 0, .80 v .70": Plan(shared.laid_out(12), (0.8, 0.7), 0.0, 0.0),
        "6 shared, r .05/.03, .75 v .50": Plan(shared.laid_out(6), (0.75, 0.5), 0.05, 0.03),
        "30 shared, r .05/.03, .90 v .83": Plan(shared.laid_out(30), (0.9, 0.83), 0.05, 0.03),
        "8 shared, 2 trays each, r .05/.03, .80 v .68": Plan(
            Layout(24, 2).laid_out(8), (0.8, 0.68), 0.05, 0.03
        ),
        "12 apart, r .05/.03, .80 v .65": Plan(apart.laid_out(12), (0.8, 0.65), 0.05, 0.03),
        "12 apart, r .10/.08, .80 v .60": Plan(apart.laid_out(12), (0.8, 0.6), 0.1, 0.08),
        "6 apart, 2 trays each, r .08/.05, .75 v .50": Plan(
            Layout(20, 2, shared=False).laid_out(6), (0.75, 0.5), 0.08, 0.05
        ),
        "20 shared, r .05/.03, .97 v .90": Plan(shared.laid_out(20), (0.97, 0.9), 0.05, 0.03),
        "20 shared, trays of 8, r .05/.03, .80 v .65": Plan(Layout(8).laid_out(20), (0.8, 0.65), 0.05, 0.03),
        "4 shared, r .05/.03, .80 v .50": Plan(shared.laid_out(4), (0.8, 0.5), 0.05, 0.03),
        "uneven, partly shared, r .05/.03, .80 v .65": Plan(at_hand, (0.8, 0.65), 0.05, 0.03),
        "uneven, partly shared, r .10/.08, .80 v .60": Plan(at_hand, (0.8, 0.6), 0.1, 0.08),
    }


def drawn(plan: Plan, random: np.random.Generator) -> np.ndarray:
    """Eggs that hatched, one entry a tray."""
    trays = plan.trays
    rate = np.array(plan.rates)[trays.pen]
    batch = _beta(random.random(int(trays.batch.max()) + 1)[trays.batch], rate, plan.rho_batch)
    beyond = (plan.rho_tray - plan.rho_batch) / (1 - plan.rho_batch)
    return random.binomial(trays.eggs.astype(int), _beta(random.random(len(rate)), batch, beyond))


def _beta(quantile: np.ndarray, mean: np.ndarray, rho: float) -> np.ndarray:
    """Beta values with variance rho p (1 - p) about a mean p."""
    if rho == 0:
        return mean
    total = (1 - rho) / rho
    inside = np.clip(mean, 1e-9, 1 - 1e-9)
    return betaincinv(inside * total, (1 - inside) * total, quantile)


def rows(name: str, plan: Plan, runs: int) -> Iterator[Row]:
    """One layout."""
    random = np.random.default_rng([SEED, *name.encode()])
    called = [_called(plan, drawn(plan, random)) for _ in range(runs)]
    seen, planned = float(np.mean(called)), power(plan.trays, plan.rates, plan.clustering)
    error = sqrt(planned * (1 - planned) / runs)
    yield {
        "layout": name,
        "planned": f"{planned:.4f}",
        "seen": f"{seen:.4f}",
        "difference": f"{seen - planned:.4f}",
        "error": f"{error:.4f}",
        "runs": str(runs),
        "lowest": f"{-APART}",
        "highest": f"{APART}",
    }


def _called(plan: Plan, passed: np.ndarray) -> bool:
    model = pen_model(passed, plan.trays.eggs, plan.trays.pen, plan.trays.batch)
    return model.stands and model.difference(0, 1).p_value < 0.05


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, cells(), rows, 2_000))
