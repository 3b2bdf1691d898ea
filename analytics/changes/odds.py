"""The odds ratio of a change: the crossed logistic model of `attribution.crossed`.

log odds of passing = level + group + after + change, with units, what is held equal, months of units and
trays' own noise all random. The prior sd of those sds is narrower than the ledger's: of a farm with a dozen
batches a wider one would make every interval too wide (`tests/simulation/changes.py`).
"""

from __future__ import annotations

import numpy as np

from analytics.attribution.crossed import fit
from analytics.attribution.terms import factor_of
from analytics.changes.layout import Layout
from analytics.comparisons.counts import Floats
from analytics.comparisons.slope_records import OddsRatio
from analytics.errors import DataTooThin

SD_PRIOR = 0.4
_WIDEST = 1e4


def odds_of_change(came: Floats, entered: Floats, layout: Layout) -> OddsRatio | None:
    """Odds of passing after over before, against the controls.

    Args:
        came: eggs that passed, one entry a tray.
        entered: eggs that entered, above 0.
        layout: the trays.

    Returns:
        With its 95 % interval; None where the records leave it wide open or the fit does not end.
    """
    touched, after = layout.touched.astype(float), layout.after.astype(float)
    numbers = [values - values.mean() for values in layout.numbers if float(values.std()) > 0]
    slopes = np.column_stack((np.ones(len(came)), touched, after, *numbers, touched * after))
    named = {"unit": layout.unit, "together": layout.alike, **layout.held}
    factors = [
        factor_of(name, np.asarray(labels).astype(str))
        for name, labels in named.items()
        if len(np.unique(labels)) > 1
    ]
    try:
        found = fit(came, entered, slopes, factors, sd_prior=SD_PRIOR, uncertainty=False)
    except DataTooThin:
        return None
    if not found.convergence.converged:
        return None
    ratio = OddsRatio.from_log(float(found.modes.b[-1]), float(np.sqrt(found.covariance[-1, -1])), np.inf)
    return ratio if ratio.low > 1 / _WIDEST and ratio.high < _WIDEST else None
