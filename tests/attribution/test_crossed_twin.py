"""The crossed model against a slow twin: dense, on the scale of the effects, differences for slopes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize
from scipy.special import expit, gammaln

from analytics.attribution.crossed import Factor, fit
from analytics.attribution.layout import Floats


class Twin:
    """Minus the Laplace log-likelihood by its definition, nothing eliminated.

    The joint density is that of the effects themselves; its mode is sought by a library routine and
    the information matrix is written out whole.
    """

    def __init__(self, trays: Any, *, tray_noise: bool, reml: bool, precision: Floats) -> None:
        self.y, self.n, self.x, factors = trays
        blocks = [np.eye(len(f.levels) + 1)[f.codes][:, :-1] for f in factors]
        if tray_noise:
            blocks.append(np.eye(len(self.y)))
        self.z = np.hstack(blocks)
        self.sizes = [block.shape[1] for block in blocks]
        self.reml, self.precision = reml, precision
        self.constant = float(
            (gammaln(self.n + 1) - gammaln(self.y + 1) - gammaln(self.n - self.y + 1)).sum()
        )

    def joint(self, a: Floats, prior: Floats, eta: Floats) -> float:
        soft = np.logaddexp(0, eta)
        normal = 0.5 * float((prior * a**2).sum())
        sized = prior > 0
        return float((self.n * soft - self.y * eta).sum()) + normal - 0.5 * float(np.log(prior[sized]).sum())

    def value(self, sds: Floats, b: Floats) -> float:
        effects = np.repeat(1 / sds**2, self.sizes)
        if self.reml:
            design, known = np.hstack([self.x, self.z]), np.zeros(len(self.y))
            prior = np.concatenate((self.precision, effects))
        else:
            design, known, prior = self.z, self.x @ b, effects

        def height(a: Floats) -> float:
            return self.joint(a, prior, known + design @ a)

        def slope(a: Floats) -> Floats:
            return prior * a - design.T @ (self.y - self.n * expit(known + design @ a))

        def matrix(a: Floats) -> Floats:
            p = expit(known + design @ a)
            return design.T @ ((self.n * p * (1 - p))[:, None] * design) + np.diag(prior)

        start = np.zeros(design.shape[1])
        mode = minimize(height, start, jac=slope, hess=matrix, method="trust-exact", options={"gtol": 1e-9}).x
        value = height(mode) + 0.5 * np.linalg.slogdet(matrix(mode))[1] - self.constant
        if self.reml:
            return float(value) - 0.5 * self.x.shape[1] * np.log(2 * np.pi) + self.proper()
        return float(value) + 0.5 * float(self.precision @ b**2) + self.joint_slopes()

    def proper(self) -> float:
        """The slopes' priors have 2 pi in their constants; `joint` has the logarithm of the precision."""
        return 0.5 * np.log(2 * np.pi) * int((self.precision > 0).sum())

    def joint_slopes(self) -> float:
        proper = self.precision[self.precision > 0]
        return 0.5 * float((np.log(2 * np.pi) - np.log(proper)).sum())

    def best(self, start: Floats, sd_prior: float | None) -> tuple[Floats, Floats, float]:
        """Sds, slopes and minus the log posterior at the top, by a general-purpose routine."""
        count = len(self.sizes)

        def goal(place: Floats) -> float:
            sds = np.exp(place[:count])
            return self.value(sds, place[count:]) + minus_log_prior(sds, sd_prior)

        wide = {"gtol": 1e-5, "finite_diff_rel_step": 1e-3}
        found = minimize(goal, start, method="BFGS", jac="3-point", options=wide)
        return np.exp(found.x[:count]), found.x[count:], float(found.fun)


def minus_log_prior(sds: Floats, scale: float | None) -> float:
    """Half-normal, as a density of the logarithms."""
    return 0.0 if scale is None else float((0.5 * (sds / scale) ** 2 - np.log(sds)).sum())


def nested(trays: Any) -> Any:
    """The same trays with the last factor split within the first: f1 lies inside f0."""
    first, last = trays.factors[0], trays.factors[-1]
    keys = [f"{a}/{b}" for a, b in zip(first.codes, last.codes, strict=True)]
    levels = sorted(set(keys))
    inner = Factor("inner", np.array([levels.index(key) for key in keys]), tuple(levels))
    return trays._replace(factors=(first, inner))


CASES = [
    # seed, trays, levels, nested, tray noise, method, priors
    (1, 50, (4,), False, False, "ml", False),
    (2, 50, (4, 9), False, False, "reml", False),
    (3, 60, (4, 3, 12), False, True, "reml", True),
    (4, 60, (5, 11), False, True, "ml", False),
    (5, 60, (5, 4), True, False, "ml", False),
    (6, 60, (5, 4), True, True, "reml", True),
    (7, 40, (), False, True, "reml", False),
    (8, 40, (), False, True, "ml", True),
    (9, 60, (5, 6, 7, 8), False, True, "reml", True),
    (10, 60, (6, 6), False, False, "ml", True),
]


@pytest.mark.parametrize(("seed", "trays", "levels", "inside", "noise", "method", "priors"), CASES)
def test_agrees_with_the_slow_twin(
    farm: Callable[..., Any],
    seed: int,
    trays: int,
    levels: tuple[int, ...],
    inside: bool,
    noise: bool,
    method: str,
    priors: bool,
) -> None:
    data = farm(seed, trays, levels, sd=0.9, noise=0.7)
    data = nested(data) if inside else data
    sd_prior, slope_prior = (1.0, 2.5) if priors else (None, None)
    found = fit(*data, tray_noise=noise, method=method, sd_prior=sd_prior, slope_prior=slope_prior)
    precision = np.array([10.0**-2, (data.slopes[:, 1].std() / 2.5) ** 2]) if priors else np.zeros(2)
    twin = Twin(data, tray_noise=noise, reml=method == "reml", precision=precision)
    assert twin.value(np.maximum(found.scales.sd, 1e-5), found.modes.b) == pytest.approx(
        -found.log_likelihood, abs=1e-6
    )
    assert found.convergence.converged
    start = np.log(np.full(len(found.scales.sd), 0.6))
    start = start if method == "reml" else np.concatenate((start, [0.5, -0.2]))
    sds, b, top = twin.best(start, sd_prior)
    assert_allclose(found.scales.sd, sds, atol=3e-4)
    height = -found.log_likelihood + minus_log_prior(found.scales.sd, sd_prior)
    assert height == pytest.approx(top, abs=1e-6)
    if method == "ml":
        assert_allclose(found.modes.b, b, atol=3e-4)
