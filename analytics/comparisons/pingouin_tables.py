"""The only place that calls pingouin, so its column names stay here."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from analytics.comparisons.counts import Floats


@dataclass(frozen=True, slots=True)
class TableTest:
    """What pingouin says of a table without empty rows or columns."""

    expected: Floats
    pearson: float
    dof: int
    pearson_p: float
    likelihood_ratio: float
    likelihood_ratio_p: float
    cramers_v: float


def independence(table: Floats) -> TableTest:
    """Pearson and likelihood-ratio chi-square of an r x c table, without continuity correction.

    Args:
        table: counts, every row and column total above 0.
    """
    import pandas as pd
    import pingouin

    row, column = (axis.ravel() for axis in np.indices(table.shape))
    times = table.ravel().astype(int)
    eggs = pd.DataFrame({"row": np.repeat(row, times), "column": np.repeat(column, times)})
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")  # small expected counts are flagged by the caller
        expected, _, stats = pingouin.chi2_independence(eggs, "row", "column", correction=False)
    found = stats.set_index("test")
    pearson, ratio = found.loc["pearson"], found.loc["log-likelihood"]
    return TableTest(
        expected=np.asarray(expected, dtype=float),
        pearson=float(pearson["chi2"]),
        dof=int(pearson["dof"]),
        pearson_p=float(pearson["pval"]),
        likelihood_ratio=float(ratio["chi2"]),
        likelihood_ratio_p=float(ratio["pval"]),
        cramers_v=float(pearson["cramer"]),
    )


def chi_square_power(effect_w: float, eggs: float, dof: int, alpha: float) -> float:
    """Power of a chi-square test at Cohen's w."""
    import pingouin

    return float(pingouin.power_chi2(dof=dof, w=effect_w, n=eggs, alpha=alpha))


def chi_square_eggs(effect_w: float, power: float, dof: int, alpha: float) -> float:
    """Eggs (not rounded) for that power at Cohen's w; NaN where pingouin finds none."""
    import pingouin

    return float(pingouin.power_chi2(dof=dof, w=effect_w, power=power, alpha=alpha))
