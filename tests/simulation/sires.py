"""Whether a male that served in two pens is told from them, and whether he is blamed for a pen or it for him.

    python tests/simulation/sires.py [--runs N] [--only TEXT ...] [--write]

Farms of six pens that do not differ, two machines and twenty-six weeks. Males A and B change pens after
thirteen weeks; the other pens keep theirs, so that pen and sire are one there. Eggs of two weeks after the
exchange have no certain sire. `male` farms: fewer eggs of male A are fertile in both pens (1.5 in log odds);
`pen` farms: of the pen he stood in first, whoever stands in it; `alike` farms: neither. Exits 1 when a figure
misses its limits by more than chance allows; they stand in sires.csv.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.attribution.ledger import POINTS, account, draw_steps  # isort: skip
from analytics.attribution.draws import Draws  # isort: skip
from analytics.attribution.terms import Terms, Trays, terms_of  # isort: skip
from analytics.breeders.ranking import CostRule, OwnRates, Standing, own_rates, rank  # isort: skip

import numpy as np
from figures import Figures, Row, run
from ledger_coverage import MILD
from ledger_farms import TARGET, LedgerPlan, draw_truth, hatch, lay_trays

SEED, SIZE = 20261125, 400
RULE = CostRule()
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "share", "error", "of", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; {SIZE} draws a farm; {RULE}",
)
FARM = LedgerPlan(
    pens=6,
    batches=52,
    per_month=8,
    share=1.0,
    steps=(("fertile", 0.90), ("late", 0.90)),
    sizes=(12, 24),
    sds={**MILD, "pen": 0.0, "pen:month": 0.0},
    slope=0.2,
)
WEEKS, EXCHANGE, OPEN = 26, 13, 2
FIRST, SECOND = "pen 0", "pen 1"
GAP = -1.5


@dataclass(frozen=True, slots=True)
class Farm:
    """What is bad: male A ("A"), his first pen ("pen 0") or nothing ("")."""

    bad: str


PLANS = {"male": Farm("A"), "pen": Farm(FIRST), "alike": Farm("")}


def males_of(trays: Trays) -> tuple[np.ndarray, np.ndarray]:
    """The true male of each tray of the two pens ("" in the others), and what the records know of him."""
    week = np.array([int(batch.removeprefix("batch ")) // 2 for batch in trays.batch])
    early = week < EXCHANGE
    true = np.where(
        trays.pen == FIRST,
        np.where(early, "A", "B"),
        np.where(trays.pen == SECOND, np.where(early, "B", "A"), ""),
    )
    is_open = (true != "") & ~early & (week < EXCHANGE + OPEN)
    return true, np.where(is_open, np.char.add("not certain ", trays.pen), true)


def rows_ranked(farm: Farm, number: int, rng: np.random.Generator) -> tuple[list[Standing], list[Standing]]:
    """Pens and sires of a made farm, ranked; who is one with his pen stands with the pen's numbers."""
    trays = lay_trays(FARM, rng)
    true, known = males_of(trays)
    terms = [terms_of(trays, step) for step in trays.steps]
    truth = [draw_truth(FARM, trays, term, at, rng) for at, term in enumerate(terms)]
    truth[0] = replace(truth[0], b=truth[0].b.copy())
    bad = (true == farm.bad) | (trays.pen == farm.bad) if farm.bad else np.zeros(len(true), dtype=bool)
    trays = _hatched(trays, terms, truth, bad, rng)
    trays = replace(trays, parents={"sire": known})
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn, _ = draw_steps(trays, terms, SIZE, POINTS, number + 1)
    found = account(trays, TARGET, terms, drawn)
    pens = np.unique(trays.pen).tolist()
    eggs = {pen: float(trays.eggs[trays.pen == pen].sum()) for pen in pens}
    sires = {male: float(trays.eggs[known == male].sum()) for male in ("A", "B")}
    chicks = dict.fromkeys((*pens, *sires), 0.0)
    by_pen: OwnRates = own_rates(found, eggs, chicks)
    one = [pen for pen in pens if pen not in (FIRST, SECOND)]
    by_sire = own_rates(
        found,
        {**sires, **{pen: eggs[pen] for pen in one}},
        chicks,
        "sire",
        {
            **{male: (("sire", male, count),) for male, count in sires.items()},
            **{pen: (("pen", pen, eggs[pen]),) for pen in one},
        },
    )
    return list(rank(by_pen, RULE)), list(rank(by_sire, RULE))


def _hatched(
    trays: Trays, terms: list[Terms], truth: list[Draws], bad: np.ndarray, rng: np.random.Generator
) -> Trays:
    """The eggs hatched; those of bad trays by a first step that is so much worse."""
    plain = hatch(trays, terms, truth, rng)
    worse = [replace(truth[0], b=truth[0].b + np.eye(1, truth[0].b.shape[1]) * GAP), *truth[1:]]
    other = hatch(trays, terms, worse, rng)
    return replace(plain, passed=np.where(bad[:, None], other.passed, plain.passed))


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


def rows_of(name: str, plan: Farm, runs: int) -> Iterator[Row]:
    """The figures of one kind of farm."""
    rng = np.random.default_rng([SEED, *name.encode()])
    found = [rows_ranked(plan, number, rng) for number in range(runs)]
    for what, place in (("pens", 0), ("sires", 1)):
        rows = [both[place] for both in found]
        others = [one.advice == "replace" for farm in rows for one in farm if one.name != plan.bad]
        yield _row(name, f"replaced, of {what} that are not bad", others, ("0", "0.05"), runs)
        if plan.bad in {one.name for one in rows[0]}:
            yield _row(name, "the bad one on top", [farm[0].name == plan.bad for farm in rows], ("0.9", "1"))
            hits = [one.advice == "replace" for farm in rows for one in farm if one.name == plan.bad]
            yield _row(name, "the bad one replaced", hits, ("0.8", "1"))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, PLANS, rows_of, 100))
