"""Whether the findings name the right cause, and none where there is none, over made-up farms.

    python tests/simulation/findings.py [--runs N] [--only TEXT ...] [--write]

Prints a line a figure and exits 1 when one misses its limit by more than chance allows; the limits stand
beside the committed figures in findings.csv. `false alarm`: farms without a cause in which a thing is said
to be clear or likely. `right on top`: the first finding names the planted factor, level and step. `wrong
and sure`: the first finding is another one and more than a hint. `exact months`, `within a month`: of
causes that come or go, both ends of the months said. `not apart`: pen and machine are said to be
inseparable. Farms without a cause are run twice as often. The draws are not moved here: tests come from the
fit, and test_findings.py shows that the findings are the same.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import analytics  # noqa: F401 - before numpy: it says how many threads small matrices take

# isort: split
import numpy as np
from figures import Figures, Row, run
from findings_farms import Cause, CausePlan, make_trays
from ledger_farms import TARGET, LedgerPlan

from analytics.attribution import draws
from analytics.attribution.findings import HINT, Finding, findings
from analytics.attribution.ledger import LossLedger, account, draw_steps, summary
from analytics.attribution.terms import Trays, terms_of

SEED, SIZE, POINTS = 20260702, 400, 32
MOVED = draws.SWEEPS
TINY = LedgerPlan()
SMALL = LedgerPlan(pens=12, machines=3, batches=60, per_month=4, share=0.33)
BUSY = replace(SMALL, batches=72, per_month=6)
PEN = Cause("pen", "pen 0", "fertile")
MACHINE = Cause("incubator", "M0", "late")
STORAGE = Cause("storage", "", "early")
MALE = replace(PEN, points=0.30, months=(6, -1))
THERMOSTAT = Cause("incubator", "M0", "early", points=0.30, months=(5, 6))
PLANS = {
    "tiny, no cause": CausePlan(TINY),
    "small, no cause": CausePlan(SMALL),
    "six batches a month, no cause": CausePlan(BUSY),
    "tiny, one pen 10 points": CausePlan(TINY, PEN),
    "tiny, one machine 10 points": CausePlan(TINY, MACHINE),
    "tiny, stored long 10 points": CausePlan(TINY, STORAGE),
    "small, one pen 10 points": CausePlan(SMALL, PEN),
    "small, one machine 10 points": CausePlan(SMALL, MACHINE),
    "small, stored long 10 points": CausePlan(SMALL, STORAGE),
    "home machines, one pen 10 points": CausePlan(replace(SMALL, home=True), PEN),
    "a male fails, 30 points": CausePlan(BUSY, MALE),
    "a thermostat, 2 months, 30 points": CausePlan(BUSY, THERMOSTAT),
}
LIMITS = {
    "false alarm": ("", "0.05"),
    "wrong and sure": ("", "0.08"),
    "right on top": ("0.92", ""),
    "within a month": ("0.80", ""),
}
FIGURES = Figures(
    Path(__file__).with_suffix(".csv"),
    keys=("farms", "what"),
    columns=("farms", "what", "lowest", "highest", "share", "error", "runs"),
    figure="share",
    about=f"what the findings say; seed {SEED}; share = of the farms; {SIZE} draws",
)


def said(trays: Trays, seed: int, quick: bool = True) -> tuple[LossLedger, tuple[Finding, ...]]:
    """The ledger of a farm and its findings."""
    draws.SWEEPS = 0 if quick else MOVED
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn, judged = draw_steps(trays, terms, SIZE, POINTS, seed)
    book = summary(trays, TARGET, terms, account(trays, TARGET, terms, drawn), judged)
    return book, findings(book)


def looks(plan: CausePlan, trays: Trays, book: LossLedger, found: tuple[Finding, ...]) -> dict[str, bool]:
    """What is true of one farm's findings."""
    apart = any(set(one.factors) == {"pen", "incubator"} for one in book.inseparable)
    cause = plan.cause
    if cause is None:
        return {"false alarm": any(one.strength != HINT for one in found), "not apart": apart}
    right = bool(found) and named(cause, found[0])
    seen = {
        "right on top": right,
        "wrong and sure": bool(found) and not right and found[0].strength != HINT,
        "not apart": apart,
    }
    if cause.months:
        those = [one for one in found if named(cause, one)]
        off = months_off(cause, trays, those[0]) if those else 99
        seen |= {"exact months": off == 0, "within a month": off <= 1}
    return seen


def named(cause: Cause, one: Finding) -> bool:
    """Whether a finding names factor, level and step."""
    return (one.item.factor, one.item.level, one.item.step) == (cause.factor, cause.level, cause.step)


def months_off(cause: Cause, trays: Trays, one: Finding) -> int:
    """By how many months the worse end is off; the level's own first and last stand for no end."""
    own = np.unique(trays.month[(trays.pen if cause.factor == "pen" else trays.setter) == cause.level])
    touched = np.unique(trays.month[cause.touches(trays)])
    if not one.item.first:
        return 99
    places = [np.searchsorted(own, month) for month in (one.item.first, one.item.last)]
    true = [np.searchsorted(own, month) for month in (touched[0], touched[-1])]
    return int(max(abs(place - truth) for place, truth in zip(places, true, strict=True)))


def rows_of(name: str, plan: CausePlan, runs: int) -> list[Row]:
    """The figures of one kind of farm."""
    rng = np.random.default_rng([SEED, *name.encode()])
    runs = runs if plan.cause else 2 * runs
    seen: dict[str, list[bool]] = {}
    for farm in range(runs):
        trays = make_trays(plan, rng)
        for what, true in looks(plan, trays, *said(trays, farm + 1)).items():
            seen.setdefault(what, []).append(true)
    return [_row(name, plan, what, np.array(those)) for what, those in seen.items()]


def _row(name: str, plan: CausePlan, what: str, those: np.ndarray) -> Row:
    share, runs = float(those.mean()), len(those)
    lowest, highest = limits_of(name, plan, what)
    error = sqrt(share * (1 - share) / runs)
    return {
        "farms": name,
        "what": what,
        "lowest": lowest,
        "highest": highest,
        "share": f"{share:.4f}",
        "error": f"{error:.4f}",
        "runs": str(runs),
    }


def limits_of(name: str, plan: CausePlan, what: str) -> tuple[str, str]:
    """The limits of a figure; where pens have ten trays or fewer the right one on top is shown only."""
    if what == "not apart":
        return ("1", "1") if plan.farm.home else ("0", "0")
    if what == "right on top" and ("tiny" in name or plan.farm.home):
        return "", ""
    if what == "right on top" and plan.cause and plan.cause.months:
        return "0.85", ""
    return LIMITS.get(what, ("", ""))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, PLANS, rows_of, runs=200))
