"""Pearson's chi-square on pooled eggs: shown, labelled, never decided by.

It takes every egg as independent of its tray-mates. Eggs of a pen and of a machine fail together, so
it calls too many differences; the tests that allow for trays and batches are in the other modules.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Floats, whole_counts
from analytics.comparisons.pingouin_tables import TableTest, chi_square_power, independence

SMALL_EXPECTED = 5.0
"""Expected counts below this make the chi-square distribution a rough guide (Cochran 1954, from memory)."""


@dataclass(frozen=True, slots=True)
class ChiSquare:
    """A chi-square test of a table of counts; every number is None where there is no test.

    Attributes:
        expected: expected counts, one tuple a row (0 in empty rows and columns).
        residuals: adjusted standardised residuals (about N(0, 1) without a difference), likewise.
        statistic: Pearson's X2, no continuity correction.
        dof: degrees of freedom.
        p_value: of X2.
        likelihood_ratio: G, twice the log of the likelihood ratio.
        likelihood_ratio_p: its p-value.
        cramers_v: Cramer's V, 0..1, without bias correction.
        cohens_w: Cohen's w = sqrt(X2 / eggs).
        power: power at 5 % of this test for a w as large as the one seen; it says no more than the p-value.
        small_expected: cells with an expected count below 5.
        why: why there is no test, or what the reader must know.
    """

    expected: tuple[tuple[float, ...], ...] | None
    residuals: tuple[tuple[float, ...], ...] | None
    statistic: float | None
    dof: int | None
    p_value: float | None
    likelihood_ratio: float | None
    likelihood_ratio_p: float | None
    cramers_v: float | None
    cohens_w: float | None
    power: float | None
    small_expected: int | None
    why: str


def chi_square(table: ArrayLike) -> ChiSquare:
    """Tests whether the rows of a table share the same proportions.

    Args:
        table: counts, shape (rows, columns); rows are pens or machines, columns are outcomes. Empty rows
            and columns are left out of the test.

    Returns:
        The test. Source: Pearson 1900; residuals: Haberman 1973; V: Cramer 1946; w: Cohen 1988.
    """
    counts = whole_counts(table, "the table's cells")
    if counts.ndim != 2:
        raise ValueError("a table has rows and columns")
    rows, columns = counts.sum(axis=1) > 0, counts.sum(axis=0) > 0
    if rows.sum() < 2 or columns.sum() < 2:
        return _no_test(_why_none(int(rows.sum()), int(columns.sum())))
    kept = counts[rows][:, columns]
    found = independence(kept)
    return _with_effects(kept, found, np.ix_(rows, columns), counts.shape)


def _why_none(rows: int, columns: int) -> str:
    if rows == 0:
        return "There are no eggs to compare."
    if rows == 1:
        return "Only one group has eggs, so there is nothing to compare it with."
    return "All eggs had the same outcome, so no difference can show."


def _no_test(why: str) -> ChiSquare:
    return ChiSquare(None, None, None, None, None, None, None, None, None, None, None, why)


def _with_effects(
    kept: Floats, found: TableTest, place: tuple[np.ndarray, ...], shape: tuple[int, ...]
) -> ChiSquare:
    w = float(np.sqrt(found.pearson / kept.sum()))
    small = int((found.expected < SMALL_EXPECTED).sum())
    return ChiSquare(
        expected=_whole_table(found.expected, place, shape),
        residuals=_whole_table(adjusted_residuals(kept, found.expected), place, shape),
        statistic=found.pearson,
        dof=found.dof,
        p_value=found.pearson_p,
        likelihood_ratio=found.likelihood_ratio,
        likelihood_ratio_p=found.likelihood_ratio_p,
        cramers_v=found.cramers_v,
        cohens_w=w,
        power=chi_square_power(w, float(kept.sum()), found.dof, 0.05),
        small_expected=small,
        why=_remarks(small, found.expected.size, kept.shape == shape),
    )


def _whole_table(
    kept: Floats, place: tuple[np.ndarray, ...], shape: tuple[int, ...]
) -> tuple[tuple[float, ...], ...]:
    whole = np.zeros(shape)
    whole[place] = kept
    return tuple(tuple(row) for row in whole.tolist())


def _remarks(small: int, cells: int, complete: bool) -> str:
    said = []
    if small:
        said.append(
            f"{small} of {cells} expected counts are below 5; the chi-square p-value is rough there, "
            "use the exact test."
        )
    if not complete:
        said.append("Rows or columns without eggs were left out.")
    return " ".join(said)


def adjusted_residuals(table: Floats, expected: Floats) -> Floats:
    """Residuals divided by their standard error without a difference.

    Args:
        table: counts, no empty row or column, at least 2 x 2.
        expected: their expected counts.

    Returns:
        (O - E) / sqrt(E (1 - row share) (1 - column share)). Source: Haberman 1973, Biometrics 29:205-220.
    """
    total = table.sum()
    row_share = table.sum(axis=1, keepdims=True) / total
    column_share = table.sum(axis=0, keepdims=True) / total
    residuals: Floats = (table - expected) / np.sqrt(expected * (1 - row_share) * (1 - column_share))
    return residuals
