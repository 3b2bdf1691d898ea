"""Farms as a further level: nested fits beside another program's, and what farms have in common."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution.crossed import fit
from analytics.attribution.draws import Draws
from analytics.attribution.farms import FARM, FARMS, with_farms
from analytics.attribution.ledger import account, summary
from analytics.attribution.shares import parts_of
from analytics.attribution.terms import Terms, Trays, factor_of, terms_of

BARE: dict[str, Any] = {"sd_prior": None, "slope_prior": None}
REFERENCE = Path(__file__).parents[1] / "reference"


def _read(name: str) -> dict[str, np.ndarray]:
    """A reference table, column by column."""
    with (REFERENCE / name).open(encoding="utf-8") as file:
        heading, *rows = csv.reader(line for line in file if not line.startswith("#"))
    return {word: np.array(cells) for word, cells in zip(heading, zip(*rows, strict=True), strict=True)}


def test_herds_within_villages() -> None:
    rows = _read("dja.csv")
    slopes = np.column_stack((np.ones(75), rows["group"] == "TREAT")).astype(float)
    factors = [factor_of(name, rows[name]) for name in ("village", "herd")]
    died, lambs = rows["y"].astype(float), rows["n"].astype(float)
    found = fit(died, lambs, slopes, factors, method="ml", tray_noise=False, **BARE)
    # Lambs' deaths in 75 herds of 19 villages (Faugere et al. 1992, Kolda; data SEEN in R package aod).
    # SEEN (run): glmmTMB 1.1.5 on R 4.2.2, cbind(y, n - y) ~ group + (1|village) + (1|herd); herd sd 3.6e-5.
    assert_allclose(found.modes.b, [-0.85136526, -0.71904680], atol=1e-5)
    assert found.scales.of("village") == pytest.approx(0.62568546, abs=1e-5)
    assert found.scales.at_zero == ("herd",)
    assert found.log_likelihood == pytest.approx(-100.21198979, abs=1e-6)


@pytest.mark.parametrize(
    ("method", "slopes", "sds", "log_likelihood", "first_farm"),
    [
        # SEEN (run): glmmTMB 1.1.5, R 4.2.2, ~ x + (1|farm) + (1|pen) + (1|machine) + (1|tray), tol 1e-14
        ("ml", [1.4706992, -0.1664068], [0.59922994, 0.292835, 0.1982121, 0.2619899], -481.519905, -0.707153),
        ("reml", [1.4491148, -0.1641899], [0.6476146, 0.292563, 0.1982416, 0.2654585], -484.44939, -0.700739),
    ],
)  # fmt: skip
def test_pens_and_machines_within_farms(
    method: str, slopes: list[float], sds: list[float], log_likelihood: float, first_farm: float
) -> None:
    rows = _read("nested_farms.csv")
    columns = np.column_stack((np.ones(192), rows["x"].astype(float)))
    factors = [factor_of(name, rows[name]) for name in ("farm", "pen", "machine")]
    passed, eggs = rows["passed"].astype(float), rows["eggs"].astype(float)
    found = fit(passed, eggs, columns, factors, method=method, **BARE)
    assert_allclose(found.modes.b, slopes, atol=5e-5)
    assert_allclose(found.scales.sd, sds, atol=5e-5)
    assert found.log_likelihood == pytest.approx(log_likelihood, abs=1e-5)
    assert found.effects("farm")[0] == pytest.approx(first_farm, abs=2e-4)


def _farms(islands: bool) -> tuple[Trays, np.ndarray]:
    """Three farms of two pens and two machines; with islands each pen of farm C keeps to its own machine."""
    rows = [
        (farm, f"{farm}: P{pen}", f"{farm}: M{machine}", f"{month}")
        for farm in "ABC"
        for pen in (1, 2)
        for machine in (1, 2)
        for month in (1, 2)
        if not (islands and farm == "C" and pen != machine)
    ]
    farm, pen, machine, month = (np.array(part) for part in zip(*rows, strict=True))
    eggs = np.full(len(rows), 100.0)
    trays = Trays(
        ("fertile",), eggs, np.full((len(rows), 1), 80.0), pen, machine, machine,
        np.char.add(machine, month), month, np.full(len(rows), np.nan), np.full(len(rows), np.nan), {}, {},
    )  # fmt: skip
    return trays, farm


def _known(terms: Terms, effects: dict[str, dict[str, float]]) -> Draws:
    """One draw with the effects given by level, 0 elsewhere."""
    names = [each.factor.name for each in terms.groupings]
    values = [
        np.array([[effects.get(each.factor.name, {}).get(level, 0.0) for level in each.factor.levels]])
        for each in terms.groupings
    ]
    return Draws(tuple(names), np.array([[1.0]]), tuple(values), np.zeros((1, len(names) + 1)), 1.0, 1)


@pytest.mark.parametrize("islands", [False, True])
def test_what_a_farms_pens_and_machines_have_in_common_is_the_farms(islands: bool) -> None:
    trays, farm = _farms(islands)
    terms = with_farms(terms_of(trays, "fertile"), farm, trays.eggs > 0)
    effects = {
        "farm": {"A": -0.5, "B": 0.2, "C": 0.1},
        # both pens of B are .3 worse, the machines of A .4 better: by hand A -.1, B -.1, C .1 but for islands
        "pen": {"B: P1": -0.2, "B: P2": -0.4, "C: P1": 0.2, "C: P2": -0.2},
        "incubator": {"A: M1": 0.5, "A: M2": 0.3},
    }
    typical, parts = parts_of(terms, _known(terms, effects), trays.eggs > 0)
    by_name = {part.name: dict(zip(part.levels, part.values[0], strict=True)) for part in parts}
    assert by_name["farm"] == pytest.approx({"A": 0.0, "B": 0.0, "C": 0.2})
    assert typical.eta[0] == pytest.approx(1.0 - 0.1)
    assert by_name["pen"]["B: P1"] == pytest.approx(0.1)
    assert by_name["incubator"]["A: M1"] == pytest.approx(0.1)
    if islands:
        assert by_name["pen"]["C: P1"] == pytest.approx(0.0)
        assert by_name["pen and incubator"]["C: P1, C: M1"] == pytest.approx(0.2)
    else:
        assert by_name["pen"]["C: P1"] == pytest.approx(0.2)
        assert "pen and incubator" not in by_name
    whole = typical.eta[0] + sum((part.table @ part.values[0]) for part in parts)
    direct = [
        1.0 + effects["farm"][one] + effects["pen"].get(pen, 0.0) + effects["incubator"].get(machine, 0.0)
        for one, pen, machine in zip(farm, trays.pen, trays.setter, strict=True)
    ]
    assert_allclose(whole, direct, atol=1e-12)


def test_a_ledger_of_farms_has_their_line_and_adds_up() -> None:
    trays, farm = _farms(islands=False)
    terms = [with_farms(terms_of(trays, "fertile"), farm, trays.eggs > 0)]
    found = account(trays, 0.9, terms, [_known(terms[0], {"farm": {"A": -1.0}})])
    book = summary(trays, 0.9, terms, found)
    groups = [line.group for line in book.lines]
    assert groups == ["flock", "handling", "incubator", "season", FARMS, "shared", "baseline", "chance"]
    assert sum(line.eggs for line in book.lines) == pytest.approx(0.9 * 2400 - 1920)
    # 800 eggs of A pass at 1/(1 + e^0) = .5 and not at 1/(1 + e^-1) = .731059
    assert book.line(FARMS).eggs == pytest.approx(800 * 0.231059, abs=1e-2)
    assert book.causes.eggs == pytest.approx(book.line(FARMS).eggs)


def test_one_farm_is_no_level() -> None:
    trays, farm = _farms(islands=False)
    terms = with_farms(terms_of(trays, "fertile"), np.full(len(farm), "A"), trays.eggs > 0)
    assert FARM not in [each.factor.name for each in terms.groupings]
    assert terms.left_out[FARM] == "only one level has eggs"
