"""What is planted is really in the eggs, at the size that is claimed."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from seed_demo.generate import draw_truth, generate, randomness
from seed_demo.hatching import hatch_count_rows
from seed_demo.outcomes import planted
from seed_demo.plan import Batch, Tray
from seed_demo.world import MACHINE_APART, PEN_APART, PLANTED, QUAIL, STEPS, Spread, truth, world

NO_SPREAD = Spread(pen=0.0, machine=0.0, batch=0.0, tray=0.0)
BIG = 200


@pytest.fixture(scope="module")
def many_eggs():
    """The demo with 200 times the eggs and nothing but what is planted."""
    made = replace(world(), spread=NO_SPREAD, eggs_times=BIG)
    return made, draw_truth(made, randomness(made)).fates


def _passed(fate, step):
    lost = (fate.infertile, fate.unseen + fate.early, fate.mid, fate.late, fate.internal + fate.external)
    place = STEPS.index(step)
    entering = fate.tray.eggs - fate.cracked - sum(lost[:place])
    return entering - lost[place], lost[place]


def _at_work(effect, first, last):
    """1 = all the time, 0 = not at all, None = partly."""
    inside = (effect.start is None or effect.start <= first) and (effect.end is None or last <= effect.end)
    outside = (effect.start is not None and last < effect.start) or (
        effect.end is not None and effect.end < first
    )
    return 1.0 if inside else 0.0 if outside else None


def _amount(effect, tray):
    """How much of an effect a tray had, from its dates; None = partly, to be left out."""
    batch = tray.batch
    if effect.factor == "storage":
        middle = tray.laid_from + (tray.laid_to - tray.laid_from) / 2
        odd = (tray.laid_to - tray.laid_from).days % 2 * 0.5
        return (batch.set_on.date() - middle).days - odd
    if effect.factor == "hen_age":
        return (tray.laid_to - tray.pen.hens_hatched_on).days / 7
    if effect.factor in ("pen", "diet"):
        return _at_work(effect, tray.laid_from, tray.laid_to) if tray.pen.name == effect.level else 0.0
    machine = batch.hatcher if effect.factor == "hatcher" else batch.setter
    if machine != effect.level:
        return 0.0
    start = batch.transfer_on if effect.factor == "hatcher" else batch.set_on
    end = batch.end if effect.factor == "hatcher" else batch.set_on + timedelta(days=7)
    return _at_work(effect, start.date(), end.date())


@pytest.mark.parametrize("step", ["fertile", "early", "late", "shell"])
def test_the_planted_sizes_are_in_the_eggs(many_eggs, step):
    from statsmodels.api import GLM, families

    made, fates = many_eggs
    effects = [effect for effect in made.planted if effect.step == step]
    rows, counts = [], []
    for fate in fates:
        amounts = [_amount(effect, fate.tray) for effect in effects]
        if fate.tray.pen.species == QUAIL and None not in amounts:
            rows.append([1.0, *amounts])
            counts.append(_passed(fate, step))
    fit = GLM(np.array(counts), np.array(rows), family=families.Binomial()).fit()
    for effect, found, error in zip(effects, fit.params[1:], fit.bse[1:], strict=True):
        assert error < 0.05, effect
        assert abs(found - effect.size) < 4 * error, (effect, found, error)


def test_base_rates_are_those_stated(many_eggs):
    _, fates = many_eggs
    calm = [
        fate
        for fate in fates
        if fate.tray.pen.species == QUAIL
        and fate.tray.pen.name not in ("Hazel", "Larch", "Rowan", PEN_APART)
        and "Slate" not in (fate.tray.batch.setter, fate.tray.batch.hatcher)
    ]
    for step, stated in zip(("mid", "late", "shell"), (0.98, 0.95, 0.96), strict=True):
        passed = sum(_passed(fate, step)[0] for fate in calm)
        entering = passed + sum(_passed(fate, step)[1] for fate in calm)
        assert passed / entering == pytest.approx(stated, abs=4 * (stated * (1 - stated) / entering) ** 0.5)


def test_pens_machines_batches_and_trays_differ_as_much_as_stated():
    drawn = [draw_truth(made, randomness(made)) for made in (world(seed, 0.0) for seed in range(30))]
    pens = [value for one in drawn for value in one.differences.pens.values()]
    machines = [value for one in drawn for value in one.differences.machines.values()]
    batches = [value for one in drawn for value in one.differences.batches.values()]
    # standard error of a standard deviation from n values: sd / sqrt(2 n)
    for values, stated in ((pens, 0.25), (machines, 0.2), (batches, 0.2)):
        assert np.std(values) == pytest.approx(stated, abs=4 * stated / (2 * len(values)) ** 0.5)
    tray = []
    for one in drawn[:5]:
        for fate, chances in zip(one.fates, one.chances, strict=True):
            logit = np.log(chances["fertile"] / (1 - chances["fertile"]))
            base = np.log(0.9 / 0.1) if fate.tray.pen.species == QUAIL else np.log(0.86 / 0.14)
            tray.append(logit - base - one.differences.pens[fate.tray.pen.name, "fertile"])
    assert np.std(tray) == pytest.approx(0.25, abs=4 * 0.25 / (2 * len(tray)) ** 0.5)


def test_machines_and_batches_leave_fertility_alone():
    differences = draw_truth(world(), randomness(world())).differences
    assert {step for _, step in differences.machines} == set(STEPS) - {"fertile"}
    assert {step for _, step in differences.batches} == set(STEPS) - {"fertile"}


def test_effects_scale_and_vanish():
    full, half, none = truth(world()), truth(world(effect_size=0.5)), truth(world(effect_size=0.0))
    assert [effect.size for effect in full] == [effect.size for effect in PLANTED]
    assert [effect.size for effect in half] == [effect.size / 2 for effect in full]
    assert {effect.size for effect in none} == {0.0}
    assert [replace(effect, size=0.0) for effect in full] == list(none)


def test_one_pen_and_one_machine_know_only_each_other(demo):
    machines_of_pen = {f.tray.batch.setter for f in demo.truth.fates if f.tray.pen.name == PEN_APART}
    pens_of_machine = {f.tray.pen.name for f in demo.truth.fates if f.tray.batch.setter == MACHINE_APART}
    assert machines_of_pen == {MACHINE_APART}
    assert pens_of_machine == {PEN_APART}
    for pen in {f.tray.pen.name for f in demo.truth.fates} - {PEN_APART}:
        setters = [f.tray.batch.setter for f in demo.truth.fates if f.tray.pen.name == pen]
        assert {"Flint", "Slate"} == set(setters)


def test_the_hot_machine_shows_in_logger_and_checks(demo):
    hot = next(effect for effect in truth(world()) if effect.step == "temperature")
    inside, outside = [], []
    for row in demo.rows["climate"]:
        if row["incubator"] == hot.level:
            (inside if hot.start <= row["at"].date() <= hot.end else outside).append(row["temperature_c"])
    # sd of one reading about 0.09; 4 standard errors of the smaller group
    assert np.mean(inside) - np.mean(outside) == pytest.approx(1.0, abs=4 * 0.09 / len(inside) ** 0.5)
    assert {row["incubator"] for row in demo.rows["climate"]} == {"Flint", "Slate"}
    apart = [
        (row["reference_c"] - row["displayed_c"], hot.start <= row["at"].date() <= hot.end)
        for row in demo.rows["checks"]
        if row["incubator"] == hot.level
    ]
    assert any(during for _, during in apart)
    for difference, during in apart:
        assert difference == pytest.approx(1.0 if during else 0.0, abs=0.4)


def test_the_hot_machine_hatches_hours_earlier(many_eggs):
    made, fates = many_eggs
    hot = next(effect for effect in made.planted if effect.step == "temperature")
    usual, early = [], []
    for batch in dict.fromkeys(fate.tray.batch for fate in fates):
        if batch.setter == hot.level and batch.species == QUAIL and batch.pulled_on:
            of_batch = [fate for fate in fates if fate.tray.batch is batch]
            rows = list(hatch_count_rows(made, of_batch, randomness(made)))
            exposed = _at_work(hot, batch.set_on.date(), batch.transfer_on.date())
            storage = np.mean([fate.tray.storage_days for fate in of_batch])
            if exposed is not None:
                (early if exposed else usual).append(_half_out(rows, batch) - 0.8 * storage)
    assert len(early) >= 3
    # counts stand 6 to 11 h apart, so a batch's half-way hour is good to a few hours
    assert np.mean(usual) - np.mean(early) == pytest.approx(10.0, abs=2.0)


def _half_out(rows, batch):
    hours = [(row["counted_at"] - batch.set_on).total_seconds() / 3600 for row in rows]
    out = [row["out_so_far"] for row in rows]
    return float(np.interp(out[-1] / 2, out, hours))


def test_supplement_shows_in_shells_and_weights():
    made = replace(world(), habits=replace(world().habits, weighed=1.0, taken_out=0.0))
    sheets = generate(made, randomness(made))
    start = next(effect.start for effect in made.planted if effect.kind == "supplement")
    given = ("Larch", "Rowan")
    thick = {True: [], False: []}
    for row in sheets.rows["shells"]:
        if row["pen"] in given:
            thick[row["sampled_on"] >= start].append(row["thickness_mm"])
    assert np.mean(thick[True]) - np.mean(thick[False]) == pytest.approx(0.012, abs=0.006)
    loss = {True: [], False: []}
    for row in sheets.rows["trays"]:
        if row["pen"] in given and row.get("weight_transfer_g") and row["laid_from"]:
            net = row["weight_set_g"] - row["tare_g"]
            left = row["weight_transfer_g"] - row["tare_g"]
            loss[row["laid_from"] >= start].append(1 - left / net)
    assert np.mean(loss[True]) - np.mean(loss[False]) == pytest.approx(-0.009, abs=0.004)


def test_eggs_wait_longer_and_longer_in_the_busy_season(demo):
    first, last = world().busy
    days = [
        ((fate.tray.batch.set_on.date() - first) / (last - first), fate.tray.storage_days)
        for fate in demo.truth.fates
    ]
    inside = [(at, stored) for at, stored in days if 0 <= at <= 1]
    outside = [stored for at, stored in days if not 0 <= at <= 1]
    slope = np.polyfit(*np.array(inside).T, 1)[0]
    assert 5 < slope < 9
    assert np.mean(outside) < 5.5


def test_a_tray_laid_across_the_day_gets_its_share():
    made = world()
    batch = Batch(
        "X",
        QUAIL,
        "Flint",
        "Flint",
        datetime.fromisoformat("2026-06-05T18:00"),
        datetime.fromisoformat("2026-06-20T09:00"),
        None,
    )
    # four days of lay, the male failing from 1 June: the last two of them
    across = Tray(batch, "1", made.pen("Hazel"), date(2026, 5, 30), date(2026, 6, 2), 12)
    before = Tray(batch, "2", made.pen("Hazel"), date(2026, 5, 28), date(2026, 5, 31), 12)
    age = -0.008 * 2 / 7  # two days older
    assert planted(made, across, "fertile") - planted(made, before, "fertile") == pytest.approx(
        -1.9 * 2 / 4 + age
    )
    # laid 30 May to 2 June, set 5 June: 4.5 days on the mean; stored a day more costs 0.12
    assert across.storage_days == 4.5
    assert planted(made, across, "early") - planted(made, before, "early") == pytest.approx(0.12 * 2)


def test_the_setter_has_a_part_in_early_and_mid_the_hatcher_in_late_and_shell():
    made = replace(world(effect_size=0.0), spread=replace(NO_SPREAD, machine=1.0))
    drawn = draw_truth(made, randomness(made))
    moved = 0
    for fate, chances in zip(drawn.fates, drawn.chances, strict=True):
        batch = fate.tray.batch
        moved += batch.setter != batch.hatcher
        for step, machine in (
            ("early", batch.setter), ("mid", batch.setter), ("late", batch.hatcher), ("shell", batch.hatcher)
        ):  # fmt: skip
            base = made.base[batch.species][STEPS.index(step)]
            expected = np.log(base / (1 - base)) + drawn.differences.machines[machine, step]
            assert np.log(chances[step] / (1 - chances[step])) == pytest.approx(expected)
    assert moved > 100


def test_the_hatcher_is_wetter_from_transfer_to_pull(demo):
    hatching = {"Flint": set(), "Slate": set()}
    for fate in demo.truth.fates:
        batch = fate.tray.batch
        for day in range((batch.end.date() - batch.transfer_on.date()).days + 1):
            hatching.setdefault(batch.hatcher, set()).add(batch.transfer_on.date() + timedelta(days=day))
    for machine, days in hatching.items():
        rows = [row for row in demo.rows["climate"] if row["incubator"] == machine]
        wet = [row["humidity_pct"] for row in rows if row["at"].date() in days]
        dry = [row["humidity_pct"] for row in rows if row["at"].date() not in days]
        if rows:
            # a reading has a standard deviation of 1.5 %, and each group has hundreds
            assert np.mean(wet) - np.mean(dry) == pytest.approx(14.0, abs=0.3)
