"""Rates of inbreeding and effective sizes against published values and a known flock."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.breeders.effective_size import inbreeding_pace, rate_of_parents, size_of_parents
from analytics.breeders.inbreeding import inbreeding
from analytics.breeders.pedigree import Descent, Pedigree, pedigree


def _full_sibs(generations: int) -> Pedigree:
    rows = [Descent("m0", "m"), Descent("f0", "f")]
    for at in range(1, generations):
        rows += [Descent(f"{sex}{at}", sex, f"m{at - 1}", f"f{at - 1}") for sex in "mf"]
    return pedigree(rows)


def test_full_sib_mating_settles_at_the_published_rate() -> None:
    """19.1 % a generation and an effective size of 2.6: Falconer and Mackay 1996, chapter 5 (MEMORY)."""
    known = _full_sibs(12)
    pace = inbreeding_pace(known, inbreeding(known))
    last = pace.generations[-1]
    assert last.rate == pytest.approx(0.191, abs=5e-4)
    assert last.effective_size == pytest.approx(2.61, abs=0.01)
    assert (last.sires, last.dams, last.expected_size) == (1, 1, 2)
    assert pace.rate is not None
    assert 1 - (1 - pace.rate) ** 11 == pytest.approx(last.inbreeding)


def test_formulas_of_wright() -> None:
    """Wright 1931, Genetics 16:97-159, formulas from MEMORY; figures by hand."""
    by_hand = {(1, 2): 0.1875, (1, 4): 0.15625, (2, 10): 0.075, (4, 16): 0.0390625, (3, 24): 0.046875}
    for (males, females), rate in by_hand.items():
        assert rate_of_parents(males, females) == pytest.approx(rate, abs=1e-12)
        assert size_of_parents(males, females) == pytest.approx(1 / (2 * rate), rel=1e-12)


def test_random_matings_come_near_what_is_expected_of_their_parents() -> None:
    """4 males and 16 females drawn each time: the expected rate is 1/32 + 1/128 = .0391."""
    random = np.random.default_rng(3)
    rates = []
    for _ in range(40):
        rows = [Descent(f"{sex}0.{at}", sex) for sex in "mf" for at in range(20)]
        for generation in range(1, 9):
            sires, dams = (
                [f"{sex}{generation - 1}.{at}" for at in random.choice(20, many, replace=False)]
                for sex, many in (("m", 4), ("f", 16))
            )
            for sex in "mf":
                rows += [
                    Descent(
                        f"{sex}{generation}.{at}", sex, str(random.choice(sires)), str(random.choice(dams))
                    )
                    for at in range(20)
                ]
        known = pedigree(rows)
        pace = inbreeding_pace(known, inbreeding(known))
        rates.append([one.rate for one in pace.generations[3:]])
        assert {(one.sires <= 4, one.dams <= 16) for one in pace.generations} == {(True, True)}
    error = np.std(np.mean(rates, axis=1)) / np.sqrt(40)
    assert abs(np.mean(rates) - 0.0390625) < 4 * error < 0.02


def test_without_forebears_nothing_is_claimed() -> None:
    known = pedigree([Descent("a", "m"), Descent("b", "f")])
    pace = inbreeding_pace(known, inbreeding(known))
    assert (pace.rate, pace.effective_size, pace.why) == (None, None, "No bird here has a known parent.")
    crossed = pedigree([Descent("a", "m"), Descent("b", "f"), Descent("c", "m", "a", "b")])
    pace = inbreeding_pace(crossed, inbreeding(crossed))
    assert (pace.rate, pace.effective_size) == (0, None)
    assert "Forebears that are not written down may hide some" in pace.why
