"""The slope of a rate on inbreeding: a planted one is found, and what cannot be told is said."""

from __future__ import annotations

import numpy as np

from analytics.breeders.depression import depression


def _farm(
    random: np.random.Generator, f_of: dict[str, tuple[float, float]], per_tenth: float
) -> tuple[np.ndarray, ...]:
    """Trays of 30 eggs in 20 batches; a pen's first F up to batch 9, its second from then on."""
    batch, pen = (axis.ravel() for axis in np.meshgrid(np.arange(20), list(f_of), indexing="ij"))
    f = np.array([f_of[p][int(b >= 10)] for b, p in zip(batch, pen, strict=True)])
    rate = 0.85 + per_tenth * f / 0.1 + random.normal(0, 0.04, 20)[batch]
    rate += np.array([{"a": 0.05, "b": -0.05}.get(p, 0.0) for p in pen])
    eggs = np.full(len(pen), 30)
    return random.binomial(eggs, np.clip(rate, 0, 1)), eggs, f, pen, batch


def test_a_changed_male_shows_the_planted_slope() -> None:
    """60 farms with 6 points less per 10 %: told within pens, and held in about 95 % of them."""
    random = np.random.default_rng(8)
    held, estimates = 0, []
    for _ in range(60):
        passed, eggs, f, pen, batch = _farm(
            random, {"a": (0.25, 0.0), "b": (0.0, 0.0), "c": (0.125, 0.125)}, -0.06
        )
        found = depression(passed, eggs, f, pen, batch, np.zeros(len(pen)))
        assert found.kind == "within_pens"
        assert found.missing == ""
        low, slope, high, _ = found.per_tenth.known()
        held += low <= -0.06 <= high
        estimates.append(slope)
    assert held >= 53
    assert abs(np.mean(estimates) + 0.06) < 4 * np.std(estimates) / np.sqrt(60) < 0.02


def test_between_pens_it_is_told_with_its_weakness() -> None:
    steady = {
        name: (f, f)
        for name, f in zip("cdefghij", (0, 0, 0.0625, 0.125, 0.125, 0.25, 0.25, 0.25), strict=True)
    }
    passed, eggs, f, pen, batch = _farm(np.random.default_rng(9), steady, -0.07)
    found = depression(passed, eggs, f, pen, batch, np.zeros(len(pen)))
    assert found.kind == "between_pens"
    low, slope, high, p_value = found.per_tenth.known()
    assert low < -0.07 < high < 0
    assert slope < 0
    assert p_value < 0.05
    assert "Whatever else sets these pens apart is in the slope" in found.missing


def test_what_is_missing_is_said() -> None:
    four = {name: (f, f) for name, f in zip("cdef", (0.0, 0.0, 0.125, 0.25), strict=True)}
    passed, eggs, f, pen, batch = _farm(np.random.default_rng(9), four, -0.07)
    machine = np.zeros(len(pen))
    few = depression(passed, eggs, f, pen, batch, machine)
    assert (few.kind, few.per_tenth.estimate) == ("", None)
    assert few.per_tenth.why == (
        "The inbreeding of eggs is known in only 4 pens, and pens differ in other ways too."
    )
    assert few.missing.startswith("Eggs of 5 pens or more side by side")
    unknown = depression(passed, eggs, np.full(len(f), np.nan), pen, batch, machine)
    assert (unknown.trays, unknown.unknown) == (0, 80)
    assert unknown.per_tenth.why == "Of no tray are both parents known."
    alike = depression(passed, eggs, np.full(len(f), 0.25), pen, batch, machine)
    assert "about equally related (inbreeding 25 % to 25 %)" in alike.per_tenth.why
