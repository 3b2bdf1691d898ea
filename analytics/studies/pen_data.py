"""What the store says about pens, or lines, in one measure: trays for the tests, sums for the rates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analytics.errors import DataTooThin, WrongUsage
from analytics.measures.clustering import design_effect, estimate_clustering
from analytics.measures.counts import Clustering, Families, LadderCounts, Stages
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.store.cells import FAMILY_OF, Cells, Floats, cells, lines_of, settled
from analytics.store.counts import Span, Stratum, cluster_sums, counting, strata
from analytics.studies.pen_records import By
from analytics.studies.wording import MEASURE_NAMES
from analytics.values import Rate, Used, label_order


@dataclass(frozen=True, slots=True)
class Group:
    """One pen, or one line of a species, with its sums.

    Attributes:
        label: pen or line.
        species: key.
        rate: its raw rate.
        counts: sums of the trays behind it.
    """

    label: str
    species: str
    rate: Rate
    counts: LadderCounts


@dataclass(frozen=True, slots=True)
class PenData:
    """Everything the study reads.

    Attributes:
        measure: the measure word.
        by: pen or line.
        groups: pens or lines with trays in the selection, by species and label.
        cells: trays with eggs in the denominator.
        label: pen or line of each tray.
        line_of: pen -> line.
        clustering: how alike the eggs of a tray and batch are, from the whole store.
    """

    measure: str
    by: By
    groups: tuple[Group, ...]
    cells: Cells
    label: NDArray[np.str_]
    line_of: Mapping[str, str]
    clustering: Clustering

    def ends(self) -> list[tuple[Floats, Floats]]:
        """Passed and entered eggs a tray; twice where clear eggs leave it open: all infertile, then none."""
        low = settled(self.cells, self.measure, clear_is_infertile=True)
        if not self.cells.clear.any():
            return [low]
        return [low, settled(self.cells, self.measure, clear_is_infertile=False)]

    def hatched(self) -> tuple[date, date]:
        """First and last day of hatch of the trays."""
        days = self.cells.hatch_on
        return days.min().astype(date), days.max().astype(date)

    def only(self, labels: Sequence[str]) -> PenData:
        """The same for some pens or lines alone."""
        own = np.isin(self.label, labels)
        groups = tuple(group for group in self.groups if group.label in labels)
        return replace(self, groups=groups, cells=taken(self.cells, own), label=self.label[own])

    def effective(self, group: Group, eggs: float) -> float:
        """As many independent eggs as `eggs` of the group are worth."""
        return eggs / design_effect(group.counts, eggs, self.clustering)


def pen_data(store: Path, measure: str, selection: Selection, by: By) -> PenData:
    """Asks the store.

    Raises:
        WrongUsage: there is no such measure.
        DataTooThin: the selection has no tray, or none with the counts that the measure needs.
        StoreError and its kinds: as `reading`.
    """
    if measure not in FAMILY_OF:
        raise WrongUsage(
            f"The measure {measure!r}", f"Measures are {', '.join(FAMILY_OF)}", "Give one of them"
        )
    with counting(store, selection) as connection:
        found = strata(connection, [Span(selection.period)])
        known = estimate_clustering(cluster_sums(connection, selection.period.end or date.max).get(measure))
        trays, line_of = cells(connection, measure), lines_of(connection)
    if not found:
        raise DataTooThin(
            "No closed batch of this selection has a tray",
            "Pens are compared by trays of batches that hatched",
            "Widen the days, pens or machines asked for",
        )
    trays = _with_eggs(trays, by, line_of)
    label = _labels(trays, by, line_of)
    sums = _of_pens(found) if by == "pen" else _of_lines(found, line_of, trays, label, measure)
    groups = tuple(
        Group(name, species, rates(families, {measure: known})[measure], _family(families, measure))
        for (species, name), families in sorted(
            sums.items(), key=lambda one: (one[0][0], label_order(one[0][1]))
        )
    )
    if not len(trays.eggs):
        _refuse(measure, by, groups)
    return PenData(measure, by, groups, trays, label, line_of, known)


def _refuse(measure: str, by: By, groups: Sequence[Group]) -> None:
    if by == "line" and not groups:
        raise DataTooThin(
            "No pen of this selection has a line",
            "Lines are compared through the pens that belong to them",
            "Write the line of each pen into the sheet pens",
        )
    left_out = sum(group.rate.used.left_out for group in groups)
    why = next((group.rate.why for group in groups if group.rate.why), "")
    trays = "tray" if left_out == 1 else "trays"
    raise DataTooThin(
        f"{MEASURE_NAMES[measure]} is known of no pen here ({left_out} {trays} without the counts)",
        why or "No egg came as far as this",
        "Write the counts of the unhatched eggs into the sheet trays",
    )


def _with_eggs(trays: Cells, by: By, line_of: Mapping[str, str]) -> Cells:
    """Trays with eggs whatever clear ones were; by line, only those of pens with a line."""
    kept = trays.eggs > 1e-9
    if by == "line":
        kept &= np.array([bool(line_of.get(pen)) for pen in trays.pen.tolist()], dtype=bool)
    return taken(trays, kept)


def taken(trays: Cells, kept: NDArray[np.bool_]) -> Cells:
    """Some of the trays."""
    return Cells(*(getattr(trays, name)[kept] for name in Cells.__slots__))


def _labels(trays: Cells, by: By, line_of: Mapping[str, str]) -> NDArray[np.str_]:
    if by == "pen":
        return trays.pen
    return np.array([line_of[pen] for pen in trays.pen.tolist()], dtype=str)


def _of_pens(found: Sequence[Stratum]) -> dict[tuple[str, str], Families]:
    return {(one.species, one.pen): one.families for one in found if one.pen}


def _of_lines(
    found: Sequence[Stratum],
    line_of: Mapping[str, str],
    trays: Cells,
    label: NDArray[np.str_],
    measure: str,
) -> dict[tuple[str, str], Families]:
    """The measure's own family of each line; the others stay empty."""
    sums: dict[tuple[str, str], LadderCounts] = {}
    for one in found:
        line = line_of.get(one.pen, "") if one.pen else ""
        if line:
            key = (one.species, line)
            counts = _family(one.families, measure)
            sums[key] = _added(sums[key], counts) if key in sums else counts
    rotten = {key: _rotten(found, line_of, key) for key in sums}
    return {
        (species, line): _only(measure, _met(counts, trays, label == line, species), rotten[species, line])
        for (species, line), counts in sums.items()
    }


def _rotten(found: Sequence[Stratum], line_of: Mapping[str, str], key: tuple[str, str]) -> int:
    own = (one for one in found if one.pen and (one.species, line_of.get(one.pen)) == key)
    return sum(one.families.rotten_eggs for one in own)


def _family(families: Families, measure: str) -> LadderCounts:
    found: LadderCounts = getattr(families, FAMILY_OF[measure])
    return found


def _only(measure: str, counts: LadderCounts, rotten: int) -> Families:
    family = FAMILY_OF[measure]
    return Families(
        hatch=counts if family == "hatch" else LadderCounts(),
        fertile=counts if family == "fertile" else LadderCounts(),
        staged=counts if family == "staged" else LadderCounts(),
        culled=counts if family == "culled" else LadderCounts(),
        rotten=counts if family == "rotten" else LadderCounts(),
        rotten_eggs=rotten,
    )


def _added(one: LadderCounts, other: LadderCounts) -> LadderCounts:
    """Sums of two pens; batches are counted afterwards, since the two may share some."""
    names = (
        "eggs_set",
        "cracked",
        "hatched",
        "culled",
        "unknown",
        "unshared",
        "opened_squares",
        "tray_squares",
    )
    return LadderCounts(
        used=Used(one.used.trays + other.used.trays, 0, one.used.left_out + other.used.left_out),
        opened=_stages(one.opened, other.opened),
        shared=_stages(one.shared, other.shared),
        **{name: getattr(one, name) + getattr(other, name) for name in names},
    )


def _stages(one: Stages, other: Stages) -> Stages:
    return Stages(*(a + b for a, b in zip(one.as_tuple(), other.as_tuple(), strict=True)))


def _met(counts: LadderCounts, trays: Cells, own: NDArray[np.bool_], species: str) -> LadderCounts:
    """The sums with the line's own batches: how many, and how evenly its followed eggs lie in them."""
    own = own & (trays.species == species)
    batches, code = np.unique(trays.batch[own], return_inverse=True)
    eggs = np.bincount(code, weights=trays.eggs[own]) if len(batches) else np.zeros(1)
    share = float((eggs**2).sum() / max(float(eggs.sum()), 1e-9) ** 2)
    used = replace(counts.used, batches=len(batches))
    return replace(counts, used=used, batch_squares=max(share * counts.followed**2, counts.tray_squares))
