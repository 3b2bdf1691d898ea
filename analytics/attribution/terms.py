"""Trays of the ladder, and what each step of it is explained by: pens, machines, batches, months, covariates.

Decisions, made before any number is looked at:
- The machine of a step is the setter up to `mid` and the hatcher in `late` and `shell`.
- A factor with eggs in one level only is left out: its level is part of the baseline.
- What sets batches apart is counted to the incubator. Where fewer than three batches hold two pens it
  cannot be told from the pens' day, and is shared. With one tray in each batch it is left out: chance.
- A month is a term where three months or more hold two batches; else it is part of its batch. It is the
  season only where three months hold two machines and two pens; else it is shared with what is single.
- A pen's (a machine's) own months are a term where three months hold, for each pen (machine) in them, two
  trays (batches) on average, and two pens (machines) or more.
- A covariate that a pen, machine, month or another covariate explains by more than 95 % is shared with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.attribution.layout import Factor, Flags, Floats
from analytics.attribution.separability import EXPLAINED, Meeting, explained_by_levels, meet
from analytics.errors import WrongUsage

Labels = NDArray[np.str_]
STEPS = ("fertile", "early", "mid", "late", "shell")
"""The steps of the ladder in order."""
OF_THE_HATCHER = ("late", "shell")
"""Steps that pass in the hatcher."""
ENOUGH_MONTHS = 3
TYPICAL_SHARE = {"storage_days": 0.25, "hen_weeks": 0.5}
BY_MONTH = ":month"
"""Ends the name of a factor's own months."""
BETWEEN = " / "
"""Stands between pen (or machine) and month in the name of a level."""


@dataclass(frozen=True, slots=True)
class Trays:
    """Trays and what became of their eggs; every array has one entry a tray.

    Attributes:
        steps: names of the steps, in the order in which an egg passes them.
        eggs: eggs that entered the first step (not cracked); need not be whole.
        passed: eggs that passed each step, shape (trays, steps); who passed one step enters the next.
        pen: label.
        setter: label of the machine until transfer.
        hatcher: label of the machine after it.
        batch: label.
        month: label, such that months sort by time.
        storage_days: NaN = not recorded (the median stands for it).
        hen_weeks: hens' age at laying, likewise.
        diets: name of a diet -> share of the laying days on which the pen had it, 0..1.
        parents: "sire", "dam" -> label, "" = not known.
    """

    steps: tuple[str, ...]
    eggs: Floats
    passed: Floats
    pen: Labels
    setter: Labels
    hatcher: Labels
    batch: Labels
    month: Labels
    storage_days: Floats
    hen_weeks: Floats
    diets: Mapping[str, Floats]
    parents: Mapping[str, Labels]

    def entering(self, step: int) -> Floats:
        """Eggs that entered a step."""
        return self.passed[:, step - 1] if step else self.eggs


@dataclass(frozen=True, slots=True)
class Grouping:
    """A factor and whose loss it makes.

    Attributes:
        group: flock, incubator, season or shared.
        factor: the factor.
        beside: what it cannot be told from, where it is shared.
    """

    group: str
    factor: Factor
    beside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Covariate:
    """A number of each tray and whose loss it makes.

    Attributes:
        group: flock, handling or shared.
        name: what it is.
        dose: its distance from the typical value, shape (trays,).
        beside: what it cannot be told from, where it is shared.
    """

    group: str
    name: str
    dose: Floats
    beside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Terms:
    """What a step is explained by.

    Attributes:
        groupings: the factors, by name.
        covariates: the covariates, by name.
        apart: pairs of factors that fall into islands; the islands' differences are shared.
        left_out: factor or covariate -> why it is no term.
    """

    groupings: tuple[Grouping, ...]
    covariates: tuple[Covariate, ...]
    apart: tuple[Meeting, ...]
    left_out: Mapping[str, str]


def terms_of(trays: Trays, step: str, typical: Mapping[str, float] | None = None) -> Terms:
    """What a step is explained by, from the layout of the trays alone.

    Args:
        trays: the trays.
        step: one of `trays.steps`.
        typical: storage_days or hen_weeks -> the value that counts as typical; else that which a quarter
            of the eggs do not exceed (storage: what waiting costs against the farm's own fresh eggs), or
            the median egg's (age).
    """
    used = trays.eggs > 0
    machine = _machine_of(trays, step)
    left_out: dict[str, str] = {}
    groupings = _groupings(trays, machine, used, left_out)
    factors = {each.factor.name: each.factor for each in groupings}
    apart = [
        meet(factors[one], factors[two], used)
        for one, two in (("pen", machine[0]), ("pen", "month"), (machine[0], "month"))
        if one in factors and two in factors
    ]
    return Terms(
        groupings=tuple(sorted(groupings, key=lambda each: each.factor.name)),
        covariates=_covariates(trays, machine, used, typical or {}, left_out),
        apart=tuple(meeting for meeting in apart if meeting.aliased_contrasts),
        left_out=left_out,
    )


def _machine_of(trays: Trays, step: str) -> tuple[str, Labels]:
    """Name and labels of the machine in which a step passes."""
    same = bool((trays.setter == trays.hatcher).all())
    late = step in OF_THE_HATCHER and not same
    return ("hatcher", trays.hatcher) if late else ("incubator", trays.setter)


def factor_of(name: str, labels: Labels) -> Factor:
    """A factor of labels; "" belongs to no level."""
    levels = np.unique(labels[labels != ""])
    codes = np.where(labels == "", -1, np.searchsorted(levels, labels))
    return Factor(name, codes.astype(np.int64), tuple(levels.tolist()))


def _groupings(
    trays: Trays, machine: tuple[str, Labels], used: Flags, left_out: dict[str, str]
) -> list[Grouping]:
    name, labels = machine
    plain = [("flock", "pen", trays.pen), ("incubator", name, labels)]
    plain += [("flock", parent, found) for parent, found in sorted(trays.parents.items())]
    groupings = []
    for group, factor, found in plain:
        if len(np.unique(found[used & (found != "")])) > 1:
            groupings.append(Grouping(group, factor_of(factor, found)))
        else:
            left_out[factor] = "only one level has eggs"
    groupings += _batch(trays, used, left_out) + _month(trays, name, labels, used, left_out)
    for group, own, members, what in (
        ("flock", "pen", trays.pen, np.arange(len(trays.pen)).astype(str)),
        ("incubator", name, labels, trays.batch),
    ):
        if _months_of(trays.month[used], members[used], what[used]) >= ENOUGH_MONTHS:
            crossed = np.char.add(np.char.add(members.astype(str), BETWEEN), trays.month.astype(str))
            groupings.append(Grouping(group, factor_of(f"{own}{BY_MONTH}", crossed)))
        else:
            left_out[f"{own}{BY_MONTH}"] = "in too few months there are two for each of them"
    return groupings


def _batch(trays: Trays, used: Flags, left_out: dict[str, str]) -> list[Grouping]:
    batch, pen = trays.batch[used], trays.pen[used]
    sizes = np.unique(batch, return_counts=True)[1]
    if len(sizes) < 2 or not (sizes > 1).any():
        left_out["batch"] = "one batch only, or one tray in each"
        return []
    mixed = _with_two(batch, pen)
    factor = factor_of("batch", trays.batch)
    return [Grouping("incubator", factor) if mixed >= 3 else Grouping("shared", factor, ("pen",))]


def _month(trays: Trays, name: str, machine: Labels, used: Flags, left_out: dict[str, str]) -> list[Grouping]:
    month = trays.month[used]
    if _with_two(month, trays.batch[used]) < ENOUGH_MONTHS:
        left_out["month"] = "fewer than three months hold two batches: part of the batch"
        return []
    single = [
        other
        for other, labels in ((name, machine), ("pen", trays.pen))
        if _with_two(month, labels[used]) < ENOUGH_MONTHS
    ]
    factor = factor_of("month", trays.month)
    return [Grouping("shared", factor, tuple(single)) if single else Grouping("season", factor)]


def _with_two(outer: Labels, inner: Labels) -> int:
    """How many levels of the outer hold two of the inner or more."""
    pairs = np.unique(np.stack((outer.astype(str), inner.astype(str))), axis=1)
    return int((np.unique(pairs[0], return_counts=True)[1] > 1).sum())


def _months_of(month: Labels, members: Labels, what: Labels) -> int:
    """Months in which there are two members or more, with two of something each on average."""
    month, members, what = month.astype(str), members.astype(str), what.astype(str)
    pairs = np.unique(np.stack((month, members)), axis=1)[0]
    triples = np.unique(np.stack((month, members, what)), axis=1)[0]
    months, counts = np.unique(pairs, return_counts=True)
    whats = np.unique(triples, return_counts=True)[1]
    return int(((counts > 1) & (whats >= 2 * counts)).sum()) if len(months) else 0


def _covariates(
    trays: Trays,
    machine: tuple[str, Labels],
    used: Flags,
    typical: Mapping[str, float],
    left_out: dict[str, str],
) -> tuple[Covariate, ...]:
    columns = [("handling", "storage", _dose(trays, "storage_days", typical))]
    columns += [("flock", "hen_age", _dose(trays, "hen_weeks", typical))]
    columns += [("flock", f"diet {name}", np.asarray(dose, float)) for name, dose in trays.diets.items()]
    others = [("pen", trays.pen), machine, ("month", trays.month)]
    varying = []
    for group, name, dose in sorted(columns, key=lambda column: column[1]):
        if np.ptp(dose[used]) > 1e-9:
            varying.append((group, name, dose))
        else:
            left_out[name] = "it does not vary"
    found = []
    for group, name, dose in varying:
        beside = [
            other for other, labels in others if _explained(dose, labels, used) and other not in left_out
        ]
        beside += ["month"] if "month" in left_out and _explained(dose, trays.month, used) else []
        beside += [other for _, other, theirs in varying if other != name and _alike(dose, theirs, used)]
        found.append(Covariate("shared" if beside else group, name, dose, tuple(beside)))
    return tuple(found)


def _dose(trays: Trays, name: str, typical: Mapping[str, float]) -> Floats:
    """Distance from the typical value; the median egg's where nothing is recorded of a tray."""
    values = np.asarray(getattr(trays, name), dtype=float)
    known = np.isfinite(values)
    if not known.any():
        return np.zeros(len(values))
    usual = _egg_at(values[known], trays.eggs[known], TYPICAL_SHARE[name])
    filled = np.where(known, values, _egg_at(values[known], trays.eggs[known], 0.5))
    return filled - typical.get(name, usual)


def _egg_at(values: Floats, eggs: Floats, share: float) -> float:
    """The value that this share of the eggs does not exceed."""
    order = np.argsort(values, kind="stable")
    ladder = np.cumsum(eggs[order])
    return float(values[order][np.searchsorted(ladder, share * ladder[-1])])


def _explained(dose: Floats, labels: Labels, used: Flags) -> bool:
    codes = factor_of("", labels).codes
    counts = np.unique(codes[used], return_counts=True)[1]
    return bool((counts > 1).any()) and explained_by_levels(dose[used], codes[used]) > EXPLAINED


def _alike(one: Floats, two: Floats, used: Flags) -> bool:
    return float(np.corrcoef(one[used], two[used])[0, 1] ** 2) > EXPLAINED


def check_trays(trays: Trays) -> None:
    """Refuses counts that are no ladder.

    Raises:
        WrongUsage: shapes do not fit, or more eggs passed a step than entered it.
    """
    rows = (len(trays.eggs), len(trays.steps))
    if trays.passed.shape != rows:
        raise WrongUsage(
            f"{trays.passed.shape} eggs passed", f"There are {rows[0]} trays and {rows[1]} steps"
        )
    ladder = np.column_stack((trays.eggs, trays.passed))
    if not (np.isfinite(ladder).all() and (ladder >= 0).all() and (np.diff(ladder, axis=1) <= 1e-9).all()):
        raise WrongUsage(
            "The counts of the steps", "No more eggs pass a step than entered it, and none is < 0"
        )
