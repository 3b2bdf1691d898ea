"""The crossed model against numbers from outside: other programs' runs and printed tables."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution.crossed import fit

BARE: dict[str, Any] = {"sd_prior": None, "slope_prior": None}
PLAIN: dict[str, Any] = {**BARE, "method": "ml", "tray_noise": False}


def test_herds_by_laplace(cbpp: Any) -> None:
    found = fit(*cbpp, **PLAIN)
    # SEEN (run): glmmTMB 1.1.5 on R 4.2.2. lme4 1.1-31 prints a point 3e-4 below this optimum.
    assert_allclose(found.modes.b, [-1.398532, -0.992333, -1.128672, -1.580314], atol=2e-6)
    assert found.scales.of("herd") == pytest.approx(0.642261, abs=2e-6)
    assert found.log_likelihood == pytest.approx(-92.026282, abs=1e-6)
    assert found.convergence.converged
    assert found.convergence.words == ""


def test_herds_by_laplace_are_near_what_lme4_prints(cbpp: Any) -> None:
    found = fit(*cbpp, **PLAIN)
    # SEEN (run): lme4 1.1-31 glmer(nAGQ = 1), the example of its help page.
    assert_allclose(found.modes.b, [-1.3983, -0.9919, -1.1282, -1.5797], atol=1e-3)
    assert found.scales.of("herd") == pytest.approx(0.6421, abs=1e-3)
    assert found.log_likelihood >= -92.0265664


def test_herds_by_nine_points(cbpp: Any) -> None:
    found = fit(*cbpp, **PLAIN, points=9)
    # SEEN (run): lme4 1.1-31 glmer(nAGQ = 9) prints four digits; log-likelihood with the full constant.
    assert_allclose(found.modes.b, [-1.3992, -0.9914, -1.1278, -1.5795], atol=6e-5)
    assert found.scales.of("herd") == pytest.approx(0.6475, abs=6e-5)
    assert found.log_likelihood == pytest.approx(-91.983372, abs=2e-6)


def test_orobanche_plates_by_quadrature(plates: Any) -> None:
    found = fit(*plates, **PLAIN, points=25)
    # BUGS Examples volume 1, "Seeds", maximum likelihood by EGRET: MEMORY (values).
    assert_allclose(found.modes.b, [-0.548, 0.097, 1.337, -0.811], atol=6e-4)
    assert found.scales.of("plate") == pytest.approx(0.236, abs=5e-4)
    # SEEN (run): lme4 1.1-31 glmer(nAGQ = 25).
    assert_allclose(found.modes.b, [-0.548432, 0.096989, 1.337039, -0.810457], atol=2e-6)
    assert found.scales.of("plate") == pytest.approx(0.236242, abs=2e-6)


def test_salamander_crossed_by_laplace(salamander: Any) -> None:
    found = fit(*salamander, **PLAIN)
    # SEEN (run): lme4 1.1-31 and glmmTMB 1.1.5 agree on these digits.
    assert_allclose(found.modes.b, [1.0082, 0.3062, -1.8960, 0.9904], atol=6e-5)
    assert_allclose(found.scales.sd, [1.0837, 1.0203], atol=6e-5)
    assert found.log_likelihood == pytest.approx(-209.2766, abs=6e-5)


def test_three_crossed_factors_and_tray_noise_by_ml(crossed_trays: Any) -> None:
    found = fit(*crossed_trays, **BARE, method="ml")
    # SEEN (run): glmmTMB 1.1.5, ~ x + (1|pen) + (1|machine) + (1|batch) + (1|tray), binomial,
    # rel.tol 1e-14; it stops 1e-5 from the top ("singular convergence").
    assert_allclose(found.modes.b, [1.3890135616, -0.1865580863], atol=2e-5)
    assert_allclose(found.scales.sd, [0.2487859543, 0.8270304205, 0.3855765065, 0.2968997670], atol=2e-5)
    assert found.log_likelihood == pytest.approx(-395.1635068, abs=1e-6)
    assert_allclose(found.standard_errors, [0.39599912954, 0.05526521192], atol=1e-5)
    log_se = np.sqrt(np.diagonal(found.scales.log_covariance))
    assert_allclose(log_se, [0.33513623927, 0.35579318138, 0.22637529117, 0.20578059763], atol=2e-5)
    machines = [-0.66944623971, -0.08476680274, 1.07076889745, -1.02197510967, 0.57828544407]
    assert_allclose(found.effects("machine"), machines, atol=2e-5)


def test_three_crossed_factors_and_tray_noise_by_reml(crossed_trays: Any) -> None:
    found = fit(*crossed_trays, **BARE)
    # SEEN (run): as above with REML = TRUE.
    assert_allclose(found.modes.b, [1.3687990420, -0.1830192659], atol=2e-5)
    assert_allclose(found.scales.sd, [0.2505462732, 0.9365786456, 0.3870337386, 0.3010975051], atol=2e-5)
    assert found.log_likelihood == pytest.approx(-397.1177869, abs=1e-6)
    assert_allclose(found.standard_errors, [0.44216238371, 0.05515372115], atol=1e-5)
    log_se = np.sqrt(np.diagonal(found.scales.log_covariance))
    assert_allclose(log_se, [0.33720331232, 0.38911963290, 0.22676947407, 0.20322669944], atol=2e-5)


@pytest.mark.parametrize(
    ("method", "b", "sd", "log_likelihood", "errors"),
    [
        (
            "ml",
            [1.2648923965, -0.3260959514],
            [0.6138704287, 0.0, 0.2624119914, 0.3665500449],
            -383.5233162,
            [0.21847902123, 0.05764918947],
        ),
        (
            "reml",
            [1.2386793719, -0.3189150075],
            [0.6527248523, 0.0, 0.2646027733, 0.3701758004],
            -386.0567960,
            [0.23057851472, 0.05753550957],
        ),
    ],
)
def test_a_machine_effect_of_zero(
    flat_trays: Any, method: str, b: list[float], sd: list[float], log_likelihood: float, errors: list[float]
) -> None:
    found = fit(*flat_trays, **BARE, method=method)
    # SEEN (run): glmmTMB 1.1.5; it ends at a machine sd of 5e-7.
    assert_allclose(found.modes.b, b, atol=1e-6)
    assert_allclose(found.scales.sd, sd, atol=1e-6)
    assert found.scales.at_zero == ("machine",)
    assert found.log_likelihood == pytest.approx(log_likelihood, abs=1e-6)
    assert_allclose(found.standard_errors, errors, atol=1e-6)
    assert found.convergence.converged
