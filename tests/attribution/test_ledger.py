"""The ledger from counts to lines: adding up, what it finds, what it says it cannot, what it refuses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution.evidence import Evidence, Judged, Months
from analytics.attribution.findings import Finding, findings
from analytics.attribution.ledger import (
    GROUPS,
    Account,
    ItemLine,
    LossLedger,
    account,
    draw_steps,
    ledger,
    p_values,
    summary,
)
from analytics.attribution.terms import Trays, terms_of
from analytics.errors import DataTooThin, WrongUsage

STEPS = ("fertile", "early", "late")


def make_trays(
    logit: Callable[[np.ndarray, np.ndarray], list[np.ndarray]],
    *,
    home: bool = False,
    failing: float = 0.0,
    per_month: int = 2,
) -> Trays:
    """6 pens, 3 machines, 24 batches; trays of 30 eggs with the given logits per step.

    `failing` is added to the first step of the second pen from the sixth month on.
    """
    batch, pen = (part.ravel() for part in np.mgrid[:24, :6])
    machine = batch % 3
    if home:
        kept = pen % 3 == machine
        batch, pen, machine = batch[kept], pen[kept], machine[kept]
    rng = np.random.default_rng(5)
    month = batch // per_month
    passed, left = [], np.full(len(pen), 30)
    for at, eta in enumerate(logit(pen, machine)):
        eta = eta + np.where((at == 0) & (pen == 1) & (month >= 5), failing, 0.0)
        left = rng.binomial(left, 1 / (1 + np.exp(-eta)))
        passed.append(left)
    machines = np.char.add("M", machine.astype(str))
    return Trays(
        steps=STEPS,
        eggs=np.full(len(pen), 30.0),
        passed=np.column_stack(passed).astype(float),
        pen=np.char.add("P", pen.astype(str)),
        setter=machines,
        hatcher=machines,
        batch=np.char.add("B", np.char.zfill(batch.astype(str), 2)),
        month=np.char.add("M", np.char.zfill(month.astype(str), 2)),
        storage_days=rng.integers(1, 8, len(pen)).astype(float),
        hen_weeks=20 + 5.0 * pen + 2 * month + rng.uniform(0, 20, len(pen)),
        diets={},
        parents={},
    )


def one_bad_pen(pen: np.ndarray, machine: np.ndarray) -> list[np.ndarray]:
    """The first pen passes the first step at 1 / (1 + exp(-0.7)) = 66.8 % and not at 90 %."""
    return [np.where(pen == 0, 0.7, 2.2), np.full(len(pen), 2.7), np.full(len(pen), 2.5)]


def one_bad_machine(pen: np.ndarray, machine: np.ndarray) -> list[np.ndarray]:
    return [np.full(len(pen), 2.2), np.where(machine == 1, 1.2, 2.7), np.full(len(pen), 2.5)]


@pytest.fixture(scope="module")
def trays() -> Trays:
    return make_trays(one_bad_pen)


@pytest.fixture(scope="module")
def found(trays: Trays) -> LossLedger:
    return ledger(trays, 0.85, size=600, points=64)


def item(found: LossLedger, factor: str, level: str, step: str) -> ItemLine:
    return next(one for one in found.items if (one.factor, one.level, one.step) == (factor, level, step))


def test_lines_add_up_to_the_shortfall(trays: Trays, found: LossLedger) -> None:
    assert [line.group for line in found.lines] == list(GROUPS)
    assert_allclose(found.shortfall, 0.85 * 144 * 30 - trays.passed[:, -1].sum())
    assert_allclose(sum(line.eggs for line in found.lines), found.shortfall)
    assert_allclose(found.causes.eggs, sum(line.eggs for line in found.lines[:5]))
    assert found.doubts == ()


def test_items_add_up_to_their_lines(found: LossLedger) -> None:
    for group in GROUPS[:5]:
        for pick in (lambda step: step == "all", lambda step: step != "all"):
            total = sum(one.eggs for one in found.items if one.group == group and pick(one.step))
            assert_allclose(total, found.line(group).eggs, atol=1e-8)


def test_steps_count_the_eggs(trays: Trays, found: LossLedger) -> None:
    assert [line.step for line in found.steps] == list(STEPS)
    assert_allclose([line.entering for line in found.steps], [4320, *trays.passed.sum(axis=0)[:2]])
    assert_allclose(sum(line.lost for line in found.steps), 4320 - found.hatched)
    # typical trays pass the steps at 90.0, 93.7 and 92.4 %
    for line, rate in zip(found.steps, (0.900, 0.937, 0.924), strict=True):
        assert abs(line.expected_lost / line.entering - (1 - rate)) < 0.025


def test_a_bad_pen_has_its_loss(found: LossLedger) -> None:
    # 720 eggs of the pen x (.900 - .668) x .937 x .924 = 144.7 chicks
    bad = item(found, "pen", "P0", "fertile")
    assert bad.group == "flock"
    assert bad.low < 144.7 < bad.high
    assert bad.p_value < 0.001
    assert found.line("flock").probability_positive > 0.99
    assert found.line("incubator").low < 0 < found.line("incubator").high
    assert item(found, "pen", "P0", "early").p_value > 0.01


def test_the_bad_pen_is_the_first_finding(found: LossLedger) -> None:
    first = findings(found)[0]
    assert (first.item.factor, first.item.level, first.item.step) == ("pen", "P0", "fertile")
    assert first.strength == "clear"


def test_a_bad_machine_is_the_first_finding() -> None:
    seen = ledger(make_trays(one_bad_machine), 0.85, size=600, points=64)
    first = findings(seen)[0]
    assert (first.item.factor, first.item.level, first.item.step) == ("incubator", "M1", "early")
    # 1440 eggs x .900 enter; (.937 - .769) of them x .924
    assert first.item.low < 1440 * 0.900 * (0.9370 - 0.7685) * 0.924 < first.item.high
    assert seen.line("flock").low < 0 < seen.line("flock").high


def test_a_pen_that_fails_from_a_month_on_is_found_with_its_months() -> None:
    def even(pen: np.ndarray, machine: np.ndarray) -> list[np.ndarray]:
        return [np.full(len(pen), eta) for eta in (2.2, 2.7, 2.5)]

    seen = ledger(make_trays(even, failing=-1.9, per_month=3), 0.85, size=600, points=64)
    first = findings(seen)[0]
    assert (first.item.factor, first.item.level, first.item.step) == ("pen", "P1", "fertile")
    assert (first.item.first, first.item.last) == ("M05", "M07")
    # 9 trays of 30 eggs x (.900 - .574) x .937 x .924 = 76.2 chicks
    assert first.item.low < 76.2 < first.item.high
    assert first.item.p_value < 0.01
    assert not any(
        one.item.first == ""
        for one in findings(seen)
        if one.item.level == "P1" and one.item.step == "fertile"
    )


def test_what_begins_late_is_not_taken_for_the_age_of_the_hens() -> None:
    """All hens are older in the last months; only one pen's eggs fail then, and age does nothing."""

    def even(pen: np.ndarray, machine: np.ndarray) -> list[np.ndarray]:
        return [np.full(len(pen), eta) for eta in (2.2, 2.7, 2.5)]

    trays = make_trays(even, failing=-2.5, per_month=4)
    trays = replace(trays, hen_weeks=20 + 8.0 * np.char.lstrip(trays.month, "M").astype(float))
    terms = [terms_of(trays, step) for step in STEPS]
    drawn, judged = draw_steps(trays, terms, 400, 32, 1)
    found = account(trays, 0.85, terms, drawn)
    book = summary(trays, 0.85, terms, found, judged)
    first = findings(book)[0].item
    assert (first.level, first.step, first.first, first.last) == ("P1", "fertile", "M05", "M05")
    # the finding is a part of the ledger, from the same draws
    cells, by_step = found.months["flock", "pen:month"]
    assert_allclose(first.eggs, by_step["fertile"][:, cells.index("P1 / M05")].mean())
    assert_allclose(sum(line.eggs for line in book.lines), book.shortfall)
    # 4 trays of 30 eggs x (.900 - .426) x .937 x .924 = 49.3 chicks
    assert first.low < 49.3 < first.high
    age = next(one for one in book.items if one.factor.startswith("hen_age") and one.step == "fertile")
    assert age.low < 0 < age.high


def test_home_machines_cannot_be_separated_and_say_so() -> None:
    seen = ledger(make_trays(one_bad_machine, home=True), 0.85, size=600, points=64)
    assert [one.factors for one in seen.inseparable] == [("pen", "incubator")]
    one = seen.inseparable[0]
    assert one.islands == ((("P0", "P3"), ("M0",)), (("P1", "P4"), ("M1",)), (("P2", "P5"), ("M2",)))
    assert one.bridges == (("P0", "M1"), ("P0", "M2"))
    # the bad machine may as well be its two pens: shared, not the incubator's
    machine = [line for line in seen.items if line.factor == "incubator"]
    assert all(line.eggs == line.low == line.high == 0 for line in machine)
    assert seen.line("shared").probability_positive > 0.99
    assert findings(seen)[0].item.factor == "pen and incubator"


def test_pens_of_one_machine_are_told_apart_even_so() -> None:
    def worse(pen: np.ndarray, machine: np.ndarray) -> list[np.ndarray]:
        return [np.where(pen == 3, 0.2, 2.2), np.full(len(pen), 2.7), np.full(len(pen), 2.5)]

    seen = ledger(make_trays(worse, home=True), 0.85, size=600, points=64)
    assert item(seen, "pen", "P3", "fertile").low > 0
    assert item(seen, "pen", "P0", "fertile").high < 0


def test_the_same_seed_gives_the_same_ledger(trays: Trays, found: LossLedger) -> None:
    again = ledger(trays, 0.85, size=600, points=64)
    assert again.lines == found.lines
    other = ledger(trays, 0.85, size=600, points=64, seed=99)
    assert other.lines != found.lines
    assert_allclose(other.line("flock").eggs, found.line("flock").eggs, rtol=0.1)


def test_another_target_moves_the_baseline_alone(trays: Trays, found: LossLedger) -> None:
    higher = ledger(trays, 0.95, size=600, points=64)
    for one, two in zip(found.lines, higher.lines, strict=True):
        assert_allclose(two.eggs - one.eggs, 432.0 if one.group == "baseline" else 0.0, atol=1e-8)


def test_nothing_lost_or_everything_still_has_a_ledger(trays: Trays) -> None:
    all_out = ledger(replace(trays, passed=np.full((144, 3), 30.0)), 1.0, size=200, points=32)
    assert all_out.shortfall == 0
    assert_allclose(sum(line.eggs for line in all_out.lines), 0, atol=1e-8)
    none_out = np.tile([30.0, 30.0, 0.0], (144, 1))
    assert_allclose(
        sum(line.eggs for line in ledger(replace(trays, passed=none_out), 0.5, size=200, points=32).lines),
        2160,
    )


def test_what_is_refused(trays: Trays) -> None:
    with pytest.raises(WrongUsage):
        ledger(trays, 85.0)
    with pytest.raises(WrongUsage):
        ledger(replace(trays, passed=trays.passed[:, ::-1]), 0.85)
    with pytest.raises(DataTooThin, match="early"):
        ledger(replace(trays, passed=np.zeros((144, 3))), 0.85)


def test_a_covariate_is_judged_by_its_slope(found: LossLedger) -> None:
    # storage does nothing here; its p value is that of the slope, which is of either sign
    assert all(one.p_value > 0.01 for one in found.items if one.factor == "storage" and one.step != "all")
    trays = make_trays(one_bad_pen)
    lost = np.where(trays.storage_days > 4, np.minimum(trays.passed[:, 2], 8), 0)
    worse = replace(trays, passed=trays.passed - lost[:, None] * [0, 0, 1])
    seen = ledger(worse, 0.85, size=600, points=64)
    late = item(seen, "storage", "", "late")
    assert late.group == "handling"
    assert late.p_value < 1e-4
    assert late.low > 0
    assert item(seen, "storage", "", "early").p_value > 0.01


def test_p_values_are_counted_and_beyond_that_normal() -> None:
    # 1000 draws of which 30 are at zero or below: 2 x 30 / 1000
    draws = np.concatenate((-np.arange(30.0), np.arange(1.0, 971.0)))
    normal = np.random.default_rng(1).normal(5, 1, 1000)
    counted, beyond, none = p_values(np.column_stack((draws, normal, np.zeros(1000))))
    assert counted == 0.06
    assert 1e-8 < beyond < 1e-5  # 2 Phi(-5) = 5.7e-7, moments of 1000 draws
    assert none == 1


def _with(found: LossLedger, rows: list[tuple[float, float]]) -> tuple[Finding, ...]:
    items = tuple(
        ItemLine("flock", "pen", f"P{at}", "fertile", eggs, eggs - 1, eggs + 1, p)
        for at, (eggs, p) in enumerate(rows)
    )
    return findings(replace(found, items=items, runs=(), eggs_set=1000.0))


def test_strength_follows_the_rule_by_hand(found: LossLedger) -> None:
    # one-sided .0001, .002, .05, .3, .55 of five: times 5/1, 5/2, 5/3, 5/4; the fourth is too much for a hint
    rows = [(40.0, 0.0002), (30.0, 0.004), (50.0, 0.1), (60.0, 0.6), (-20.0, 0.9)]
    seen = _with(found, rows)
    assert [(one.item.level, one.strength) for one in seen] == [
        ("P0", "clear"),
        ("P1", "likely"),
        ("P2", "hint"),
    ]
    assert_allclose([one.q_value for one in seen], [0.0005, 0.005, 0.25 / 3])


def test_a_win_is_no_finding_and_a_trifle_is_a_hint(found: LossLedger) -> None:
    seen = _with(found, [(-40.0, 1e-6), (1.9, 1e-6)])
    assert [(one.item.level, one.strength) for one in seen] == [("P1", "hint")]


def test_the_p_values_of_slopes_count_times_their_number(found: LossLedger) -> None:
    slopes = tuple(
        ItemLine("handling", "storage", "", step, 40.0, 30.0, 50.0, p)
        for step, p in (("fertile", 0.004), ("early", 0.9), ("late", 0.8))
    )
    seen = findings(replace(found, items=slopes, runs=(), eggs_set=1000.0))
    assert [(one.item.step, one.strength) for one in seen] == [("fertile", "hint")]
    assert_allclose(seen[0].q_value, 0.012)


def test_shares_of_two_halves_add_up_to_the_whole(trays: Trays, found: LossLedger) -> None:
    """Effects come from all trays, so what is counted in some and in the rest is all."""
    some = np.arange(len(trays.eggs)) % 3 == 0
    halves = [ledger(trays, 0.85, size=600, points=64, counted=mask) for mask in (some, ~some)]
    assert halves[0].eggs_set == trays.eggs[some].sum()
    assert_allclose(halves[0].shortfall, 0.85 * 30 * some.sum() - trays.passed[some, -1].sum())
    for half in halves:
        assert_allclose(sum(line.eggs for line in half.lines), half.shortfall)
    for group in GROUPS:
        assert_allclose(sum(half.line(group).eggs for half in halves), found.line(group).eggs, atol=1e-8)
    for at, step in enumerate(found.steps):
        assert_allclose(sum(half.steps[at].lost for half in halves), step.lost)
        assert_allclose(sum(half.steps[at].expected_lost for half in halves), step.expected_lost)


def test_nothing_counted_is_refused(trays: Trays) -> None:
    with pytest.raises(DataTooThin, match="No egg is counted"):
        ledger(trays, 0.85, size=60, points=8, counted=np.zeros(len(trays.eggs), dtype=bool))


def test_the_months_counted_are_judged_as_a_whole() -> None:
    """A male that fails from the sixth month on is seen in the eighth month alone, and not in the third."""
    trays = make_trays(one_bad_machine, failing=-2.5)
    for month, seen in (("M07", True), ("M02", False)):
        some = ledger(trays, 0.85, size=400, points=64, counted=trays.month == month)
        mine = [one for one in some.months if (one.factor, one.level, one.step) == ("pen", "P1", "fertile")]
        (line,) = mine
        assert (line.first, line.last) == (month, month)
        assert (line.p_value < 0.01) is seen
        named = [one.item for one in findings(some) if one.item.factor == "pen"]
        assert (("P1", "fertile") in [(one.level, one.step) for one in named]) is seen
    whole = ledger(trays, 0.85, size=400, points=64, counted=trays.pen == "P1")
    assert whole.months == ()


def test_months_that_were_chosen_are_no_surer_than_their_run(trays: Trays) -> None:
    rng = np.random.default_rng(3)
    lost = np.column_stack((rng.normal(9, 1, 400), np.zeros(400), rng.normal(9, 1, 400)))
    cells = ("P0 / M02", "P0 / M03", "P1 / M02")
    run = Months("P0 / M02", "P0 / M03", 0.04, ("P0 / M02", "P0 / M03"), 0.99)
    found = Account(
        dict.fromkeys(GROUPS, np.zeros(400)),
        {},
        {("flock", "pen:month"): (cells, {"fertile": lost})},
        {},
        np.zeros((400, 3)),
    )
    judged = Judged((), {"fertile": Evidence({}, {("pen:month", "P0"): run})})
    book = summary(trays, 0.85, [], found, judged, trays.month == "M02")
    chosen, other = book.months
    assert (chosen.level, chosen.p_value) == ("P0", 0.04)
    assert other.p_value < 1e-6


def _batches(found: LossLedger, p_values: list[float], eggs: float = 30.0) -> tuple[Finding, ...]:
    items = tuple(
        ItemLine("incubator", "batch", f"B{at:02}", "early", eggs if at % 2 else -eggs, -40.0, 40.0, p)
        for at, p in enumerate(p_values)
    )
    return findings(replace(found, items=items, runs=(), eggs_set=1000.0))


def test_batches_that_all_differ_are_no_finding_and_one_far_off_is(found: LossLedger) -> None:
    wide = [0.02, 0.01, 0.03, 0.02, 0.01, 0.03, 0.002, 0.001, 0.4, 0.6]
    assert not _batches(found, wide)
    calm = [0.9, 1e-9, 0.6, 0.5, 0.8, 0.4, 0.7, 0.3, 0.5, 0.6]
    seen = _batches(found, calm)
    assert [(one.item.level, one.strength) for one in seen] == [("B01", "clear")]


def test_the_sure_stand_by_their_loss_and_hints_by_their_evidence(found: LossLedger) -> None:
    rows = [(10.0, 1e-6), (30.0, 1e-5), (90.0, 0.04), (5.0, 0.01), (-9.0, 0.5)]
    assert [one.item.level for one in _with(found, rows)] == ["P1", "P0", "P3", "P2"]


def test_months_are_the_item_where_they_stand_out(found: LossLedger) -> None:
    whole = ItemLine("flock", "pen", "P1", "fertile", 40.0, 10.0, 70.0, 1e-6)
    run = ItemLine("flock", "pen", "P1", "fertile", 35.0, 15.0, 60.0, 0.04, "M05", "M07")
    for one, first, p in ((run, "M05", 5e-7), (replace(run, p_value=0.06), "", 5e-7)):
        (seen,) = findings(replace(found, items=(whole,), runs=(one,), eggs_set=1000.0))
        assert seen.item.first == first
        assert_allclose(seen.q_value, p)
