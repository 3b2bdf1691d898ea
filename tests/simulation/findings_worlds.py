"""Whether the demo's planted causes are found with the right size: its own records, and worlds drawn anew.

    python tests/simulation/findings_worlds.py [--runs N] [--only TEXT ...] [--write]

A world is the demo's smallholding of another seed with all planted effects at half to full size (drawn from
the seed), loaded as record sheets; the quail's trays go through the ledger as in `penwise causes`. Pens and
machines differ by nothing but what is planted, so that all that is true is known; batches and trays stay
noisy. The true loss of a planted effect is worked out from the generator's own logits and the eggs that truly
entered the step, shared out by the ledger's definition but none of its code.

`found`: a finding of any strength names factor, level and step, of the worlds where generalised least
squares with the true variances gives the effect five standard errors or more. `covered`: the 95 % interval
of what was found, with little power too, holds the true loss in the months that were said; where that is
fewer than 20 worlds, chance is allowed for (one miss of 7 is no sign of a false interval). `wrong and sure`:
worlds with a clear or likely finding on an item whose trays are planted with nothing. The first rows are of
the demo's own seed at full size, with pens and machines alike as well. All other limits are kept without an
allowance for chance. Slopes are counted from the value that counts as typical in the ledger. Draws are moved
as in the program.

Pens and machines that differ by chance besides are in demo_worlds.py. Of eggs that die early one in eight
shows nothing and is taken for infertile, so that what storage costs in that step is said a tenth too small.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import analytics  # noqa: F401 - before numpy: it says how many threads small matrices take

# isort: split
import numpy as np
from figures import BAND, Figures, Row, run
from findings import said
from scipy.special import expit, logit

from analytics.attribution.findings import HINT, Finding
from analytics.attribution.ledger import ItemLine
from analytics.attribution.terms import Trays
from analytics.options import Selection
from analytics.sheets.load import load
from analytics.studies.causes_data import loss_data
from seed_demo.generate import Sheets, generate, randomness, write_sheets
from seed_demo.outcomes import _dose
from seed_demo.world import DEFAULT_SEED, QUAIL, STEPS, Planted, World, world

SHEETS = ("birds", "pens", "pen_birds", "incubators", "batches", "trays", "diets")
ENOUGH = 5.0
"""Standard errors from which an effect must be found (our own choice)."""
NOTHING = 0.05
"""Planted logits, trays of an item against the others, below which nothing is planted there."""
TYPICAL = {"storage": 0.25, "hen_age": 0.5}
"""Share of the eggs that do not exceed the value from which the ledger counts."""
FEW = 20
"""Findings of an effect below which their intervals are judged with those of all effects only."""
DEMO = "the demo, pens alike"
CELLS = {DEMO: (DEFAULT_SEED, 1), "other seeds": (1, 0)}
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("worlds", "what"),
    columns=("worlds", "what", "lowest", "highest", "share", "error", "count"),
    figure="share",
    about="planted causes found; worlds of seeds 1, 2, ...; limits without an allowance for chance",
    band=0.0,
)


@dataclass(frozen=True, slots=True)
class Eggs:
    """The quail's trays of a world as the ledger takes them, and what is true of each.

    Attributes:
        trays: as loaded.
        doses: planted effect -> how much of it each tray has.
        chances: true chance of passing each step, shape (trays, steps).
        entered: eggs that truly entered each step, likewise.
        batches: what each tray's batch adds to the logit of each step, likewise.
        typical: logit of a typical tray in each step, before its own noise.
        noise: sd of trays' own noise.
    """

    trays: Trays
    doses: dict[Planted, np.ndarray]
    chances: np.ndarray
    entered: np.ndarray
    batches: np.ndarray
    typical: np.ndarray
    noise: float


def eggs_of(drawn: World) -> Eggs:
    """Draws a world, loads it, and puts the truth beside the trays."""
    sheets = generate(drawn, randomness(drawn))
    with tempfile.TemporaryDirectory(prefix="penwise-world-") as folder:
        store = Path(folder) / "world.duckdb"
        write_sheets(sheets, Path(folder) / "sheets")
        load(store, [Path(folder) / "sheets" / f"{name}.csv" for name in SHEETS])
        data = next(one for one in loss_data(store, Selection(), None) if one.asked.species == QUAIL)
    label = data.ladder.labels
    return _with_truth(drawn, sheets, data.trays(), list(zip(label["batch"], label["tray"], strict=True)))


def _with_truth(drawn: World, sheets: Sheets, trays: Trays, keys: list[tuple[str, str]]) -> Eggs:
    truth = sheets.truth
    place = {(fate.tray.batch.name, fate.tray.name): at for at, fate in enumerate(truth.fates)}
    kept = [place[str(batch), str(tray)] for batch, tray in keys]
    fates = [truth.fates[at] for at in kept]
    lost = np.array([
        (f.infertile, f.unseen + f.early, f.mid, f.late, f.internal + f.external) for f in fates
    ])  # fmt: skip
    start = np.array([f.tray.eggs - f.cracked for f in fates])
    entered = start[:, None] - np.cumsum(np.column_stack((np.zeros(len(fates)), lost[:, :-1])), axis=1)
    effects = [one for one in drawn.planted if one.step in STEPS and one.size]
    doses = {one: np.array([_dose(one, fate.tray) for fate in fates]) for one in effects}
    chances = np.array([[truth.chances[at][step] for step in STEPS] for at in kept])
    batches = np.array([
        [truth.differences.batches.get((fate.tray.batch.name, step), 0.0) for step in STEPS] for fate in fates
    ])  # fmt: skip
    base = np.array(drawn.base[QUAIL])
    for one, dose in doses.items():
        if one.factor in TYPICAL:
            usual = egg_at(dose, trays.eggs, TYPICAL[one.factor])
            doses[one] = dose - usual
            at = STEPS.index(one.step)
            base[at] = expit(logit(base[at]) + one.size * usual)
    return Eggs(trays, doses, chances, entered, batches, logit(base), drawn.spread.tray)


def true_loss(eggs: Eggs, effect: Planted, item: ItemLine) -> float:
    """Chicks that an effect truly cost in the months of an item, shared out as a ledger does.

    Of what a tray loses in the step against a typical one, the effect has its share of the way on the logit
    scale; an egg past the step is worth what typical trays make of it.
    """
    at, dose = STEPS.index(effect.step), eggs.doses[effect]
    if item.first:
        dose = dose * ((eggs.trays.month >= item.first) & (eggs.trays.month <= item.last))
    way = eggs.batches[:, at] + sum(
        one.size * doses for one, doses in eggs.doses.items() if one.step == effect.step
    )
    typical = mean_rate(eggs.typical, eggs.noise)
    lost = eggs.entered[:, at] * (typical[at] - mean_rate(eggs.typical[at] + way, eggs.noise))
    share = np.where(np.abs(way) > 1e-9, effect.size * dose / np.where(way == 0, 1.0, way), 0.0)
    return float((share * lost).sum() * np.prod(typical[at + 1 :]))


def mean_rate(eta: np.ndarray, noise: float) -> np.ndarray:
    """Rate of trays with normal noise on the logit scale, by 15-point quadrature."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    return np.asarray(expit(np.asarray(eta)[..., None] + noise * nodes) @ weights / weights.sum())


def egg_at(values: np.ndarray, eggs: np.ndarray, share: float) -> float:
    """The value that this share of the eggs do not exceed."""
    order = np.argsort(values, kind="stable")
    ladder = np.cumsum(eggs[order])
    return float(values[order][np.searchsorted(ladder, share * ladder[-1])])


def errors_away(drawn: World, eggs: Eggs, alike: Sequence[Planted]) -> float:
    """Effects of one kind and step in standard errors: generalised least squares with the true variances.

    Beside them stand an intercept and what else is planted in the step; the trays of a batch share its noise.
    """
    at = STEPS.index(alike[0].step)
    chance, entered = eggs.chances[:, at], np.maximum(eggs.entered[:, at], 0.1)
    variance = drawn.spread.tray**2 + 1 / (entered * chance * (1 - chance))
    shared = eggs.trays.batch[:, None] == eggs.trays.batch
    cover = np.diag(variance) + (drawn.spread.batch**2 if at else 0.0) * shared
    others = [eggs.doses[one] for one in eggs.doses if one.step == alike[0].step and one not in alike]
    columns = np.column_stack([sum(eggs.doses[one] for one in alike), np.ones(len(chance)), *others])
    known = columns.T @ np.linalg.solve(cover, columns)
    return abs(alike[0].size) / sqrt(np.linalg.inv(known)[0, 0])


def names(effect: Planted, item: ItemLine) -> bool:
    """Whether an item is that of the effect."""
    factors = item.factor.split(" and ")
    right = effect.factor in factors or (effect.factor == "diet" and item.factor.startswith("diet "))
    level = effect.level in item.level.split(", ") or not item.level
    return right and level and item.step == effect.step


def nothing_planted(eggs: Eggs, item: ItemLine) -> bool:
    """Whether the trays of an item are planted with no more in its step than the others."""
    effects = [one for one in eggs.doses if one.step == item.step]
    if not item.level:
        return not any(names(one, item) for one in effects)
    logits = np.sum(
        [one.size * eggs.doses[one] for one in effects] or [np.zeros(len(eggs.trays.eggs))], axis=0
    )
    labels = {"incubator": "setter"}
    inside = np.zeros(len(logits), dtype=bool)
    for factor in item.factor.split(" and "):
        of = np.asarray(getattr(eggs.trays, labels.get(factor, factor), np.full(len(logits), "")))
        inside |= np.isin(of, item.level.split(", "))
    if item.first:
        inside &= (eggs.trays.month >= item.first) & (eggs.trays.month <= item.last)
    if not inside.any() or inside.all():
        return True
    return float(logits[inside].mean() - logits[~inside].mean()) > -NOTHING


def looks(drawn: World, seed: int) -> Iterator[tuple[str, bool]]:
    """What is true of one world's findings."""
    eggs = eggs_of(drawn)
    _, found = said(eggs.trays, seed, quick=False)
    yield "wrong and sure", any(nothing_planted(eggs, one.item) for one in found if one.strength != HINT)
    effects = [one for one in eggs.doses if one.kind != "supplement" or one.level == "Larch"]
    for effect in effects:
        yield from _of_effect(drawn, eggs, effect, found)


def _of_effect(
    drawn: World, eggs: Eggs, effect: Planted, found: tuple[Finding, ...]
) -> Iterator[tuple[str, bool]]:
    called = f"{effect.kind}, {effect.step}"
    those = [one for one in found if names(effect, one.item)]
    alike = [one for one in eggs.doses if (one.kind, one.step) == (effect.kind, effect.step)]
    away = errors_away(drawn, eggs, alike)
    yield (f"{called}: found" if away >= ENOUGH else f"{called}: found, little power"), bool(those)
    if those:
        item = those[0].item
        true = sum(true_loss(eggs, one, item) for one in alike)
        held = item.low <= true <= item.high
        yield f"{called}: covered", held
        yield "all effects: covered", held
        sys.stderr.write(
            f"{drawn.seed} {called} {away:.1f} errors, true {true:.0f}, said {item.eggs:.0f} ({item.low:.0f}"
            f" to {item.high:.0f}) {item.factor} {item.level} {item.first} {item.last} {those[0].strength}\n"
        )
    else:
        sys.stderr.write(f"{drawn.seed} {called} {away:.1f} errors, not found\n")


def rows_of(name: str, plan: tuple[int, int], runs: int) -> list[Row]:
    """The figures of some worlds."""
    first, count = plan
    seen: dict[str, list[bool]] = {}
    for seed in range(first, first + (count or runs)):
        size = 1.0 if count else float(np.random.default_rng([seed, 5]).uniform(0.5, 1.0))
        drawn = world(seed, size)
        drawn = replace(drawn, spread=replace(drawn.spread, pen=0.0, machine=0.0))
        for what, true in looks(drawn, seed):
            seen.setdefault(what, []).append(true)
    return [_row(name, what, np.array(those)) for what, those in sorted(seen.items())]


def _row(name: str, what: str, those: np.ndarray) -> Row:
    share, lowest, highest = float(those.mean()), "", ""
    if what == "wrong and sure":
        highest = "0.08"
    elif what.endswith(("found", "covered")):
        lowest = "0.90"
    error = sqrt(share * (1 - share) / len(those))
    if lowest and name != DEMO and len(those) < FEW:
        lowest = f"{max(0.90 - BAND * error, 0.0):.2f}"
    values = (name, what, lowest, highest, f"{share:.4f}", f"{error:.4f}", f"{those.sum()} of {len(those)}")
    return dict(zip(FIGURES.columns, values, strict=True))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, CELLS, rows_of, runs=100))
