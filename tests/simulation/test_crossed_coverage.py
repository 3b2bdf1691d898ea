"""Do 95 % intervals from the crossed model's draws hold the truth? Farms whose sds come from the prior."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.attribution.crossed import Factor, Model, fit_on, lay_out
from analytics.attribution.draws import draws

FARMS = 400
# Monte-Carlo error of a coverage near .95 over 400 farms is .011; effects of a farm are several each.
LOWEST, HIGHEST = 0.925, 0.98


def covered(truth: np.ndarray, drawn: np.ndarray) -> np.ndarray:
    low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
    return (low <= truth) & (truth <= high)


@pytest.mark.slow
def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(11)
    trays, counts = 70, {"pen": 5, "machine": 2, "batch": 14}
    hits: dict[str, list[np.ndarray]] = {name: [] for name in ("b", "sd", *counts)}
    for _ in range(FARMS):
        batch = np.arange(trays) % 14
        codes = {"pen": np.arange(trays) // 14, "machine": batch % 2, "batch": batch}
        slopes = np.column_stack([np.ones(trays), rng.normal(size=trays)])
        sds = np.abs(rng.normal(size=4))
        effects = {
            name: sd * rng.normal(size=count) for (name, count), sd in zip(counts.items(), sds, strict=False)
        }
        b = np.array([rng.normal(1.5, 0.5), rng.normal(0, 0.5)])
        eta = slopes @ b + sds[3] * rng.normal(size=trays) + sum(effects[n][codes[n]] for n in counts)
        eggs = rng.integers(10, 40, trays)
        layout = lay_out(
            slopes, [Factor(name, codes[name], tuple(map(str, range(counts[name])))) for name in counts]
        )
        found = fit_on(layout, rng.binomial(eggs, 1 / (1 + np.exp(-eta))), eggs, Model())
        assert found.convergence.converged, found.convergence
        drawn = draws(found, 1000, 128, seed=int(rng.integers(2**31)))
        hits["b"].append(covered(b, drawn.b))
        hits["sd"].append(covered(sds, drawn.sds))
        for name, effect in effects.items():
            hits[name].append(covered(effect, drawn.of(name)))
    shares = {name: float(np.mean(hit)) for name, hit in hits.items()}
    assert all(LOWEST <= share <= HIGHEST for share in shares.values()), shares
