"""Records that break careless code: the model answers, or says in words why it cannot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analytics.attribution.crossed import CrossedFit, Factor, fit
from analytics.attribution.layout import Floats
from analytics.errors import DataTooThin, WrongUsage

pytestmark = pytest.mark.filterwarnings("error")
N = 40
EGGS = np.full(N, 20.0)
SOME = np.random.default_rng(3).binomial(20, 0.8, N).astype(float)
ONE = np.ones((N, 1))
LATE = (np.arange(N) >= 20).astype(float)
WAYS: list[dict[str, Any]] = [
    {},
    {"sd_prior": None, "slope_prior": None},
    {"sd_prior": None, "slope_prior": None, "method": "ml"},
]


def levels(count: int) -> tuple[str, ...]:
    return tuple(str(at) for at in range(count))


PEN = Factor("pen", np.arange(N) % 5, levels(5))
MACHINE = Factor("machine", np.arange(N) // 20, levels(2))


def assert_whole(found: CrossedFit) -> None:
    numbers = [
        found.modes.b,
        found.modes.eta,
        found.modes.eta_variance,
        found.modes.noise,
        found.scales.sd,
        found.scales.log_covariance,
        found.covariance,
        found.covariance_total,
        np.array([found.log_likelihood]),
        *found.modes.effects,
        *found.modes.effect_variances,
    ]
    assert all(np.isfinite(part).all() for part in numbers)
    assert found.convergence.converged == (found.convergence.words == "")


@pytest.mark.parametrize("way", WAYS, ids=["priors", "reml", "ml"])
@pytest.mark.parametrize(
    ("passed", "eggs", "slopes", "factors"),
    [
        pytest.param(SOME, EGGS, ONE, (PEN, MACHINE), id="nothing but chance"),
        pytest.param(np.full(N, 16.0), EGGS, ONE, (PEN, MACHINE), id="less than chance"),
        pytest.param(
            np.where(PEN.codes == 0, 0, np.where(PEN.codes == 1, 20, SOME)),
            EGGS,
            ONE,
            (PEN, MACHINE),
            id="pens where none or all passed",
        ),
        pytest.param(SOME, EGGS, ONE, (Factor("pen", np.zeros(N, int), ("a",)), MACHINE), id="one level"),
        pytest.param(SOME, EGGS, ONE, (Factor("pen", PEN.codes, levels(9)),), id="levels without trays"),
        pytest.param(SOME, EGGS, ONE, (Factor("sire", np.full(N, -1), levels(3)), PEN), id="no members"),
        pytest.param(
            SOME,
            EGGS,
            ONE,
            (Factor("sire", np.where(LATE > 0, -1, PEN.codes), levels(5)),),
            id="some members",
        ),
        pytest.param(SOME, EGGS, ONE, (), id="no factors"),
        pytest.param(SOME, EGGS, np.zeros((N, 0)), (PEN,), id="no slopes"),
        pytest.param(
            np.where(LATE > 0, 0, SOME), np.where(LATE > 0, 0, EGGS), ONE, (PEN, MACHINE), id="empty trays"
        ),
        pytest.param((SOME > 15).astype(float), np.ones(N), ONE, (PEN,), id="one egg a tray"),
        pytest.param(np.array([3.0]), np.array([5.0]), ONE[:1], (), id="one tray"),
        pytest.param(
            SOME, EGGS, ONE, (PEN, Factor("twin", PEN.codes, PEN.levels)), id="two factors that are one"
        ),
        pytest.param(SOME * 1e6, EGGS * 1e6, ONE, (PEN, MACHINE), id="a million times the eggs"),
    ],
)
def test_thin_and_odd_records_are_fitted(
    passed: Floats, eggs: Floats, slopes: Floats, factors: tuple[Factor, ...], way: dict[str, Any]
) -> None:
    found = fit(passed, eggs, slopes, factors, **way)
    assert_whole(found)
    assert found.convergence.converged, found.convergence


@pytest.mark.parametrize("passed", [EGGS, 0 * EGGS], ids=["all", "none"])
def test_all_or_nothing(passed: Floats) -> None:
    with_prior, reml, ml = (fit(passed, EGGS, ONE, (PEN, MACHINE), **way) for way in WAYS)
    for found in (with_prior, reml, ml):
        assert_whole(found)
    assert with_prior.convergence.converged
    assert "all-or-nothing" in reml.convergence.words
    assert "all-or-nothing" in ml.convergence.words


def test_separation() -> None:
    passed = np.where(LATE > 0, 20, SOME)
    with_prior, reml, ml = (fit(passed, EGGS, np.column_stack([ONE, LATE]), (PEN,), **way) for way in WAYS)
    for found in (with_prior, reml, ml):
        assert_whole(found)
    assert with_prior.convergence.converged
    assert 2 < with_prior.modes.b[1] < 15
    assert "all-or-nothing" in reml.convergence.words
    assert "all-or-nothing" in ml.convergence.words


@pytest.mark.parametrize("way", WAYS[1:], ids=["reml", "ml"])
def test_columns_that_say_the_same(way: dict[str, Any]) -> None:
    found = fit(SOME, EGGS, np.column_stack([ONE, ONE]), (PEN,), **way)
    assert_whole(found)
    assert found.convergence.words == "columns of x say the same"
    empty = fit(SOME, EGGS, np.column_stack([ONE, 0 * ONE]), (PEN,), **way)
    assert empty.convergence.words == "a column of x is zero wherever there are eggs"


def test_trays_that_pass_whole_or_not_at_all() -> None:
    passed = np.where(np.arange(N) % 2, EGGS, 0)
    found = fit(passed, EGGS, ONE, (PEN,), sd_prior=None, slope_prior=None)
    assert_whole(found)
    assert found.convergence.words == "the sd of tray is at its upper limit"
    assert fit(passed, EGGS, ONE, (PEN,)).convergence.converged


def test_zero_variance_is_zero_and_named() -> None:
    found = fit(np.full(N, 16.0), EGGS, ONE, (PEN, MACHINE), sd_prior=None, slope_prior=None)
    assert found.scales.at_zero == ("pen", "machine", "tray")
    assert not found.scales.sd.any()
    assert found.modes.b[0] == pytest.approx(np.log(4), abs=1e-9)
    assert found.covariance_total[0, 0] == pytest.approx(1 / (800 * 0.8 * 0.2), rel=1e-9)


def test_what_the_records_say_nothing_about_is_named() -> None:
    one_pen = Factor("pen", np.zeros(N, int), ("a", "b"))
    found = fit(SOME, EGGS, ONE, (one_pen, MACHINE))
    assert found.scales.untold == ("pen",)
    assert found.scales.of("pen") == pytest.approx(1, abs=0.02)
    bare = fit(SOME, EGGS, ONE, (one_pen, MACHINE), sd_prior=None, slope_prior=None)
    assert bare.scales.untold == ("pen",)
    assert bare.scales.of("pen") == 0
    single = fit((SOME > 15).astype(float), np.ones(N), ONE, (PEN,))
    assert single.scales.untold == ("tray",)


def test_no_eggs_is_too_thin() -> None:
    with pytest.raises(DataTooThin, match="No eggs"):
        fit(0 * EGGS, 0 * EGGS, ONE, (PEN,))
    with pytest.raises(DataTooThin, match="No eggs"):
        fit([], [], np.zeros((0, 1)), ())


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"passed": EGGS + 1}, "lie between 0"),
        ({"passed": np.where(LATE > 0, np.nan, SOME)}, "lie between 0"),
        ({"eggs": EGGS[1:]}, "one count each"),
        ({"slopes": ONE * np.inf}, "finite"),
        ({"factors": (Factor("sire", np.full(N, -1), ()),)}, "at least one level"),
        ({"factors": (Factor("pen", PEN.codes, levels(4)),)}, "4 levels"),
        ({"factors": (Factor("pen", PEN.codes[1:], levels(5)),)}, "one code each"),
        ({"factors": (PEN, PEN)}, "own name"),
        ({"method": "bayes"}, "reml or ml"),
        ({"fixed_sd": {"sire": 1.0}}, "The given sd sire"),
        ({"fixed_sd": {"pen": -1.0}}, "at least 0"),
        ({"points": 5}, "exactly one factor"),
        ({"offset": [1.0]}, "The offset"),
    ],
)
def test_what_cannot_be_meant_is_refused(changes: dict[str, Any], said: str) -> None:
    given: dict[str, Any] = {"passed": SOME, "eggs": EGGS, "slopes": ONE, "factors": (PEN,), **changes}
    with pytest.raises(WrongUsage, match=said):
        fit(**given)
