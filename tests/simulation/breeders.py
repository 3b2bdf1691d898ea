"""Whether the chances that breeders are ranked by are what they say, and who is advised to be replaced.

    python tests/simulation/breeders.py [--runs N] [--only TEXT ...] [--write]

Farms of ten pens, two machines and twenty-four batches whose true rates are known. `prior` farms have their
sds and slopes drawn from the model's priors: there the share of pens truly below the others' median must be
the probability said, within 3 points, in each of ten bins (of `--runs` farms, ten pens each). Among farms
where pens do not differ, and among pens that are truly as good as the others, "replace" is a false alarm.
`one pen` farms have one pen at 73 % fertility among others at 90 %: it must be on top.
Exits 1 when a figure misses its limits by more than chance allows; they stand in breeders.csv.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.attribution.ledger import POINTS, Account, account, draw_steps  # isort: skip
from analytics.attribution.terms import Trays, terms_of  # isort: skip
from analytics.breeders.ranking import CostRule, OwnRates, Standing, beside, own_rates, rank  # isort: skip

import numpy as np
from figures import Figures, Row, run
from ledger_coverage import MILD
from ledger_farms import TARGET, LedgerPlan, make_farm

SEED = 20260727
SIZE = 400
RULE = CostRule()
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "share", "error", "of", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; {SIZE} draws a farm; {RULE}",
)
TEN = {"pens": 10, "batches": 24, "share": 0.5}
ALIKE = {**MILD, "pen": 0.0, "pen:month": 0.0}
PLANS = {
    "prior": LedgerPlan(**TEN),
    "pens alike": LedgerPlan(**TEN, sds=ALIKE, slope=0.2),
    "one pen far off": LedgerPlan(**TEN, sds=ALIKE, slope=0.2, far_pen=-1.2),
    "one pen of few eggs far off": LedgerPlan(**{**TEN, "share": 0.2}, sds=ALIKE, slope=0.2, far_pen=-1.2),
}


@dataclass(frozen=True, slots=True)
class Seen:
    """A pen: what was said of it, and what is true.

    Attributes:
        said: its row.
        place: its place in the ranking, 0 = top.
        below: whether it truly is below the median of the others.
        pays: whether replacing it truly pays.
        far: whether it is the pen that was made far off.
    """

    said: Standing
    place: int
    below: bool
    pays: bool
    far: bool


def own_of(trays: Trays, found: Account) -> OwnRates:
    """Own rates of the pens of a farm, from an account of draws or of the truth."""
    pens = np.unique(trays.pen)
    eggs = {str(pen): float(trays.eggs[trays.pen == pen].sum()) for pen in pens}
    chicks = {str(pen): float(trays.passed[trays.pen == pen, -1].sum()) for pen in pens}
    return own_rates(found, eggs, chicks)


def pens_of(plan: LedgerPlan, farm: int, rng: np.random.Generator) -> list[Seen]:
    """Makes a farm, ranks its pens and looks at the truth."""
    trays, truth = make_farm(plan, rng)
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn, _ = draw_steps(trays, terms, SIZE, POINTS, farm + 1)
    own = own_of(trays, account(trays, TARGET, terms, drawn))
    true = own_of(trays, truth)
    found = []
    for place, said in enumerate(rank(own, RULE)):
        at = true.names.index(said.name)
        rate, instead = true.rates[:, at], beside(true, at)
        pays = bool(RULE.gain(rate, instead, said.eggs)[0] > 0)
        found.append(Seen(said, place, bool(rate[0] < instead[0]), pays, said.name == "pen 0"))
    return found


def _row(farms: str, figure: str, hits: list[bool], limits: tuple[str, str], most: int | None = None) -> Row:
    share, count = float(np.mean(hits)), len(hits)
    return {
        "farms": farms,
        "figure": figure,
        "share": f"{share:.4f}",
        "error": f"{sqrt(max(share * (1 - share), 0.005) / (most or count)):.4f}",
        "of": str(count),
        "lowest": limits[0],
        "highest": limits[1],
    }


def _calibration(name: str, seen: list[Seen]) -> Iterator[Row]:
    """Ten bins of equal numbers of pens: how many are below, beside the mean probability said."""
    order = sorted(seen, key=lambda one: one.said.probability_below_target)
    for at, few in enumerate(np.array_split(np.arange(len(order)), 10)):
        pens = [order[place] for place in few]
        said = float(np.mean([one.said.probability_below_target for one in pens]))
        limits = f"{max(said - 0.03, 0):.4f}", f"{min(said + 0.03, 1):.4f}"
        yield _row(name, f"truly below, bin {at + 1} of 10", [one.below for one in pens], limits)


def rows_of(name: str, plan: LedgerPlan, runs: int) -> Iterator[Row]:
    """The figures of one kind of farm."""
    rng = np.random.default_rng([SEED, *name.encode()])
    seen = [one for farm in range(runs) for one in pens_of(plan, farm, rng)]
    replaced = [one for one in seen if one.said.advice == "replace"]
    healthy = [one.said.advice == "replace" for one in seen if not one.below]
    yield _row(name, "replaced, of pens not below the others", healthy, ("0", "0.05"), runs)
    if name == "prior":
        yield from _calibration(name, seen)
        yield _row(name, "replacing pays, of those replaced", [one.pays for one in replaced], ("0.90", "1"))
    if plan.far_pen:
        far = [one for one in seen if one.far]
        alone = [one.said.advice == "replace" for one in seen if not one.far]
        most = "" if plan.share < 0.3 else "0.95"
        yield _row(name, "far pen on top", [one.place == 0 for one in far], (most, "1" if most else ""))
        yield _row(name, "far pen replaced", [one.said.advice == "replace" for one in far], ("", ""))
        yield _row(name, "another replaced", alone, ("0", "0.05"), runs)
    else:
        yield _row(name, "replaced, of all", [one.said.advice == "replace" for one in seen], ("", ""))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, PLANS, rows_of, 500))
