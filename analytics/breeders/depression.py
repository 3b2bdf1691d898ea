"""Does the hatch fall where parents are related, and by how much; or why these records cannot tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.overdispersion import Labels
from analytics.comparisons.slope import clustered_slope
from analytics.comparisons.slope_records import ClusteredSlope, Slope

TENTH = 0.1
"""Slopes are told for 10 % more inbreeding."""
_SPREAD = 0.03
"""Less difference of F than this shows nothing (our own choice: half that of first cousins)."""
_FEWEST_PENS = 5
"""Pens between which a slope is told at least (our own choice): each brings whatever else it differs by."""


@dataclass(frozen=True, slots=True)
class Depression:
    """How a rate goes with the inbreeding of the eggs.

    Attributes:
        method: the model in words, "" where none was made.
        per_tenth: change of the rate for 10 % more inbreeding, in shares; its `why` says why there is none.
        kind: "within_pens" where inbreeding changed within pens (a male was changed), so that a pen is
            compared with itself; "between_pens" where only pens differ in it; "" without a slope.
        trays: trays used.
        pens: pens used.
        unknown: trays left out because a parent is not known.
        missing: what to write down or do so that a slope can be told, or told cleanly; "" where nothing is.
    """

    method: str
    per_tenth: Slope
    kind: Literal["within_pens", "between_pens", ""]
    trays: int
    pens: int
    unknown: int
    missing: str


def depression(
    passed: ArrayLike, eggs: ArrayLike, of_young: ArrayLike, pen: Labels, batch: Labels, machine: Labels
) -> Depression:
    """Fits how the rate of trays goes with the inbreeding that their eggs have.

    Args:
        passed: eggs that passed, one entry a tray; need not be whole.
        eggs: eggs that entered.
        of_young: kinship of the parents of each tray's eggs (a pen's mean pair where several are possible),
            0..1; NaN where a parent is not known.
        pen: pen of each tray.
        batch: batch of each tray.
        machine: machine of each tray.

    Returns:
        The slope within pens where there is one, since it is free of what else sets pens apart; else that
        between pens, which is not, and says so.
    """
    f = np.asarray(of_young, dtype=float)
    used = np.isfinite(f) & (np.asarray(eggs, dtype=float) > 0)
    pens = len(np.unique(np.asarray(pen)[used]))
    counts = int(used.sum()), pens, int((~np.isfinite(f)).sum())
    why, missing = _why_none(f[used], counts[2])
    if why:
        return Depression("", Slope.missing(why), "", *counts, missing)
    fit = clustered_slope(passed, eggs, f / TENTH, pen, batch, (machine,))
    return _chosen(fit, counts)


def _why_none(f: np.ndarray, unknown: int) -> tuple[str, str]:
    if not f.size:
        return "Of no tray are both parents known.", (
            "Write the birds' parents into the sheet birds and their pens into pen_birds."
        )
    if np.ptp(f) < _SPREAD:
        told = "All trays have parents about equally related"
        return f"{told} (inbreeding {f.min():.0%} to {f.max():.0%}).".replace("%", " %"), (
            _more(unknown)
            if unknown
            else "Only pens with related and pens with unrelated parents, side by side, would show it."
        )
    return "", ""


def _more(unknown: int) -> str:
    needed = f"eggs of {_FEWEST_PENS} pens or more side by side, or another male in one of them"
    if unknown:
        return (
            f"In {unknown:,} trays a parent's own parents are not written down: write them into the sheets "
            f"birds and pen_birds. Then {needed}, would tell."
        )
    return f"{needed[:1].upper()}{needed[1:]}, would tell."


def _chosen(fit: ClusteredSlope, counts: tuple[int, int, int]) -> Depression:
    if fit.within.estimate is not None:
        return Depression(fit.method, fit.within, "within_pens", *counts, "")
    if counts[1] < _FEWEST_PENS:
        pens = "one pen" if counts[1] == 1 else f"{counts[1]} pens"
        why = f"The inbreeding of eggs is known in only {pens}, and pens differ in other ways too."
        return Depression("", Slope.missing(why), "", *counts, _more(counts[2]))
    if fit.between.estimate is None:
        return Depression("", fit.between, "", *counts, _more(counts[2]))
    between = "pens' own rates on the inbreeding of their eggs, batches random"
    missing = (
        "Whatever else sets these pens apart is in the slope. Another, unrelated male in a pen with related "
        "parents would show inbreeding alone."
    )
    return Depression(between, fit.between, "between_pens", *counts, missing)
