"""The models of a pen question: which machine belongs to the step, whether storage can be weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.comparisons.chi_square import chi_square
from analytics.comparisons.deal_model import DealModel
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.line_model import LineModel
from analytics.comparisons.pen_model import PenModel, pen_model
from analytics.comparisons.standing_out import Judge
from analytics.comparisons.stratified import within_batches
from analytics.store.cells import Cells, Floats
from analytics.studies.pen_data import PenData

INDEPENDENT = "Pearson chi-square, as if every egg were independent"
ENOUGH_STORAGE = 0.9
"""Share of trays with known storage from which storage is weighed; the others take their batch's mean."""
_NO_SPREAD = "do not differ at all"
_SETTER = ("fertility", "early_loss", "mid_loss", "rotten")
_HATCHER = ("late_loss", "shell_loss", "cull_rate")


@dataclass(frozen=True, slots=True)
class Judged:
    """The models, and what was held equal in them.

    Attributes:
        judges: one model, or two where clear eggs leave two ends; () where none could be made.
        models: the models of pens behind the judges.
        ends: clustered tests, one an end.
        machines: whether there is more than one machine to hold equal.
        storage: whether storage was held equal.
        storage_blank: trays whose storage is not known.
        storage_known: trays whose storage is.
    """

    judges: tuple[Judge, ...]
    models: tuple[PenModel, ...]
    ends: tuple[HypothesisTest, ...]
    machines: bool
    storage: bool
    storage_blank: int
    storage_known: int

    @property
    def deciding_end(self) -> int:
        """The end whose test could not be made, or else has the larger p."""
        p_values = [2.0 if test.p_value is None else test.p_value for test in self.ends]
        return p_values.index(max(p_values))

    @property
    def clustered(self) -> HypothesisTest:
        """The test that decides."""
        return self.ends[self.deciding_end]


def judged(data: PenData, *, adjust: bool = True) -> Judged:
    """Fits the models.

    Args:
        data: the trays.
        adjust: whether machine and storage are taken out; species always is.
    """
    trays = data.cells
    machines = _machines(trays, data.measure)
    storage = storage_covariate(trays)
    others = [trays.species, *(machines if adjust else [])]
    covariates = [storage] if adjust and storage is not None else []
    models: list[PenModel] = []
    for passed, eggs in data.ends():
        near = models[0].tray_rho if models else None
        models.append(pen_model(passed, eggs, trays.pen, trays.batch, others, covariates, near))
    judges = _judges(data, models)
    ends = tuple(judge.test for judge in judges) or tuple(model.test for model in models)
    blank = int(np.isnan(trays.storage_days).sum())
    return Judged(
        judges=judges if all(test.p_value is not None for test in ends) else (),
        models=tuple(models),
        ends=ends,
        machines=any(len(np.unique(machine)) > 1 for machine in machines),
        storage=bool(covariates),
        storage_blank=blank,
        storage_known=len(trays.eggs) - blank,
    )


def _judges(data: PenData, models: Sequence[PenModel]) -> tuple[Judge, ...]:
    if data.by == "pen" and any(_NO_SPREAD in model.test.why for model in models):
        trays = data.cells
        return tuple(DealModel(passed, eggs, trays.pen, trays.batch) for passed, eggs in data.ends())
    if data.by == "line" and all(model.stands for model in models):
        return tuple(
            LineModel(model, [data.line_of[str(pen)] for pen in model.labels]) for model in models
        )  # fmt: skip
    return tuple(models) if all(model.stands for model in models) else ()


def _machines(trays: Cells, measure: str) -> list[np.ndarray]:
    """The machine of the step: until transfer, after it, or both where they differ."""
    if measure in _SETTER:
        return [trays.setter]
    if measure in _HATCHER:
        return [trays.hatcher]
    return [trays.setter] if np.array_equal(trays.setter, trays.hatcher) else [trays.setter, trays.hatcher]


def machine_labels(trays: Cells, measure: str) -> np.ndarray:
    """The machines of each tray's step as one label."""
    found = _machines(trays, measure)
    return found[0] if len(found) == 1 else np.char.add(np.char.add(found[0], "|"), found[1])


def storage_covariate(trays: Cells) -> Floats | None:
    """Storage days with blanks filled by their batch's mean, or None where too few are known or all alike."""
    days = trays.storage_days
    known = ~np.isnan(days)
    if known.mean() < ENOUGH_STORAGE or float(np.ptp(days[known])) < 1e-9:
        return None
    _, batch = np.unique(trays.batch, return_inverse=True)
    held = np.bincount(batch, weights=known.astype(float))
    total = np.bincount(batch, weights=np.where(known, days, 0.0))
    mean = np.where(held > 0, total / np.maximum(held, 1), days[known].mean())
    return np.where(known, days, mean[batch])


def independent_test(data: PenData, end: int) -> HypothesisTest:
    """Pearson's chi-square on pooled eggs, species by species and added up; whole eggs.

    Args:
        data: the trays.
        end: which end of what clear eggs leave open.
    """
    passed, eggs = _at(data, end)
    statistic, dof, why = 0.0, 0, ""
    for species in np.unique(data.cells.species):
        own = data.cells.species == species
        code = np.unique(data.label[own], return_inverse=True)[1]
        came, all_eggs = (np.rint(np.bincount(code, weights=w[own])) for w in (passed, eggs))
        test = chi_square(np.column_stack((np.minimum(came, all_eggs), np.maximum(all_eggs - came, 0))))
        if test.statistic is None:
            why = why or test.why
            continue
        statistic, dof = statistic + test.statistic, dof + (test.dof or 0)
    if not dof:
        return HypothesisTest.missing(INDEPENDENT, why)
    return HypothesisTest.chi_square(INDEPENDENT, statistic, dof)


def _at(data: PenData, end: int) -> tuple[Floats, Floats]:
    ends = data.ends()
    return ends[min(end, len(ends) - 1)]


def stratified_test(data: PenData, end: int) -> HypothesisTest:
    """Cochran-Mantel-Haenszel over batches, each species for itself; whole eggs.

    Args:
        data: the trays.
        end: which end of what clear eggs leave open.
    """
    passed, eggs = _at(data, end)
    whole = np.rint(eggs)
    kept = whole > 0
    stratum = np.char.add(np.char.add(data.cells.batch, "|"), data.cells.species)
    return within_batches(
        np.minimum(np.rint(passed), whole)[kept], whole[kept], data.label[kept], stratum[kept]
    )
