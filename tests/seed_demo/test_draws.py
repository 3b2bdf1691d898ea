"""The demo's chance against the distributions it claims."""

import numpy as np
from scipy import stats

from seed_demo.draws import happens, how_many, normal, one_of, whole


def _rng():
    return np.random.Generator(np.random.PCG64(11))


def test_normal_is_normal():
    rng = _rng()
    drawn = [normal(rng, 2.0) for _ in range(20_000)]
    assert stats.kstest(drawn, stats.norm(0, 2).cdf).pvalue > 0.001


def test_how_many_is_binomial():
    rng = _rng()
    drawn = np.bincount([how_many(rng, 6, 0.3) for _ in range(20_000)], minlength=7)
    expected = 20_000 * stats.binom(6, 0.3).pmf(np.arange(7))
    assert stats.chisquare(drawn, expected).pvalue > 0.001
    assert how_many(rng, 0, 0.5) == 0
    assert how_many(rng, 9, 0.0) == 0
    assert how_many(rng, 9, 1.0) == 9


def test_whole_reaches_both_ends_alike():
    rng = _rng()
    drawn = np.bincount([whole(rng, 2, 5) for _ in range(20_000)], minlength=6)
    assert drawn[:2].sum() == 0
    assert stats.chisquare(drawn[2:]).pvalue > 0.001
    assert {one_of(rng, "abc") for _ in range(100)} == set("abc")


def test_happens_as_often_as_its_chance():
    rng = _rng()
    seen = sum(happens(rng, 0.2) for _ in range(20_000))
    assert stats.binomtest(seen, 20_000, 0.2).pvalue > 0.001


def test_normal_stays_finite_at_the_ends_of_the_uniform():
    class Least:
        def random(self):
            return 0.0

    class Most:
        def random(self):
            return 1.0 - 2.0**-53

    assert -9 < normal(Least()) < -8
    assert 8 < normal(Most()) < 9
