"""Whose loss: the chicks short of a target, shared out so that the parts add up exactly.

An egg that passes a step is worth the chicks that typical eggs become after it. With typical rates r and
products v of the later ones, n eggs entering and y passing, n v_0 - chicks = sum over steps of v (n r - y).
Of each step v n (r - p), p the tray's own rate, is shared out over pens, machines and the rest, and
v (n p - y) is chance; n (target - v_0) is the baseline. A tray's own noise is part of chance: r and p are
means over it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from analytics.attribution.crossed import Model, fit_on, lay_out
from analytics.attribution.draws import POINTS, Draws, draws
from analytics.attribution.evidence import Evidence, Judged, Months, evidence
from analytics.attribution.farms import FARMS
from analytics.attribution.layout import Flags, Floats
from analytics.attribution.own_months import Key, columns_of, given_back, judged_again, standing_out
from analytics.attribution.records import CrossedFit
from analytics.attribution.runs import cells_by_level, month_of
from analytics.attribution.shares import NO_LEVELS, Part, cells_of, losses, parts_of, rate
from analytics.attribution.terms import BY_MONTH, Terms, Trays, check_trays, terms_of
from analytics.errors import DataTooThin, WrongUsage

GROUPS = ("flock", "handling", "incubator", "season", "shared", "baseline", "chance")
"""Of one farm; of several, `FARMS` stands after the season."""
CAUSES = GROUPS[:5]
ALL_STEPS = "all"
SLOPE_PRIOR = 1.0
"""Prior sd of a covariate's slope, in logits per standard deviation of the covariate. A much wider one lets
what is not known of a slope count as loss, because rates near 1 fall faster than they rise."""
NOTHING_JUDGED = Judged()
TAIL = 0.025
COUNTED = 10


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """A group's part of the shortfall.

    Attributes:
        group: one of `GROUPS`, or "causes" for the first five together.
        eggs: chicks lost by it (mean over the draws); negative = won.
        low: lower end of the 95 % interval.
        high: upper end.
        probability_positive: probability that chicks were lost by it at all.
    """

    group: str
    eggs: float
    low: float
    high: float
    probability_positive: float


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step of the ladder in eggs.

    Attributes:
        step: its name.
        entering: eggs that entered.
        lost: eggs lost in it.
        expected_lost: eggs that typical trays would have lost of those that entered.
    """

    step: str
    entering: float
    lost: float
    expected_lost: float


@dataclass(frozen=True, slots=True)
class ItemLine:
    """The part of one level of one factor, or of a covariate, in one step or in all.

    Attributes:
        group: one of `CAUSES`.
        factor: its name; joined by "and" where the records cannot tell them apart.
        level: the level's name, "" for a covariate.
        step: the step, or "all".
        eggs: chicks lost by it; negative = won.
        low: lower end of the 95 % interval.
        high: upper end.
        p_value: two-sided: of a pen, machine or parent in a step, of no difference from the mean of its
            fellows (`analytics.attribution.evidence`); of a run of months that was found, of none from the
            level's own other months; else of no difference from the typical level, by the draws.
        first: first month of a run of months, else "".
        last: its last month, else "".
    """

    group: str
    factor: str
    level: str
    step: str
    eggs: float
    low: float
    high: float
    p_value: float
    first: str = ""
    last: str = ""


@dataclass(frozen=True, slots=True)
class Inseparable:
    """Two factors that fall into islands: differences between these belong to both.

    Attributes:
        factors: the two.
        islands: the levels of both, island by island.
        bridges: a level of the first and one of the second whose meeting joins an island to the first one.
    """

    factors: tuple[str, str]
    islands: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    bridges: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LossLedger:
    """The shortfall and whose it is.

    Attributes:
        eggs_set: eggs that entered the ladder.
        hatched: chicks out of them.
        target: chicks per egg wanted.
        lines: one for each of `GROUPS`, and of several farms one for these; they add up to the shortfall.
        causes: all of them together but baseline and chance.
        steps: one for each step.
        items: every level of every factor and every covariate, per step and over all.
        runs: of every pen and machine that has a term for its months, and every step, the run of months
            that stands out most as a loss; parts of the items, not beside them. With p at most .05 it has
            a term of its own in the fit (`analytics.attribution.own_months`).
        inseparable: what cannot be told apart.
        left_out: factor or covariate -> why it has no part.
        doubts: steps whose model did not settle, and why.
        months: of the same pens and machines, where not all months are counted, those that are: the pen's
            own part and that of its months together.
    """

    eggs_set: float
    hatched: float
    target: float
    lines: tuple[LedgerLine, ...]
    causes: LedgerLine
    steps: tuple[StepLine, ...]
    items: tuple[ItemLine, ...]
    runs: tuple[ItemLine, ...]
    inseparable: tuple[Inseparable, ...]
    left_out: Mapping[str, str]
    doubts: tuple[str, ...]
    months: tuple[ItemLine, ...] = ()

    @property
    def target_hatched(self) -> float:
        """Chicks wanted."""
        return self.target * self.eggs_set

    @property
    def shortfall(self) -> float:
        """Chicks short of the target; negative = more than wanted."""
        return self.target_hatched - self.hatched

    def line(self, group: str) -> LedgerLine:
        """The line of a group."""
        return next(line for line in self.lines if line.group == group)


Items = dict[tuple[str, str], tuple[tuple[str, ...], dict[str, Floats]]]


@dataclass(frozen=True, slots=True)
class Account:
    """The ledger draw by draw.

    Attributes:
        groups: group -> chicks, shape (draws,).
        items: (group, factor) -> levels and, by step, their chicks, shape (draws, levels).
        months: the same for factors by month, each with what its pen or machine itself loses in it.
        slopes: the slopes of the covariates, in the same form; their sign is that of a loss only roughly.
        expected: share of entering eggs that typical trays lose, shape (draws, steps).
    """

    groups: Mapping[str, Floats]
    items: Items
    months: Items
    slopes: Items
    expected: Floats


def ledger(
    trays: Trays,
    target: float,
    *,
    typical: Mapping[str, float] | None = None,
    size: int = 1000,
    points: int = POINTS,
    seed: int = 1,
    counted: Flags | None = None,
) -> LossLedger:
    """Fits every step and shares the shortfall out.

    Args:
        trays: the trays, of one species.
        target: chicks per egg that enters the ladder, 0..1.
        typical: storage_days or hen_weeks -> the value that counts as typical, as in `terms_of`.
        size: draws.
        points: points at which each step's sds are tried before the draws are moved.
        seed: of the draws.
        counted: the trays whose shortfall is shared out, a mask; None = all. Effects and what is typical
            come from all trays.

    Raises:
        WrongUsage: counts that are no ladder, or a target outside 0..1.
        DataTooThin: no eggs, or none that reached the last step.
    """
    check_target(target)
    check_eggs(trays)
    terms = [terms_of(trays, step, typical) for step in trays.steps]
    drawn, judged = draw_steps(trays, terms, size, points, seed)
    return summary(trays, target, terms, account(trays, target, terms, drawn, counted), judged, counted)


def check_target(target: float) -> None:
    """Refuses what is no share.

    Raises:
        WrongUsage: it lies outside 0..1.
    """
    if not 0 <= target <= 1:
        raise WrongUsage(f"The target {target}", "It is chicks per egg set, from 0 to 1")


def check_eggs(trays: Trays) -> None:
    """Refuses counts that are no ladder or too few for one.

    Raises:
        WrongUsage: more eggs passed a step than entered it.
        DataTooThin: no eggs in a step.
    """
    check_trays(trays)
    for at, step in enumerate(trays.steps):
        if not trays.entering(at).sum() > 0:
            raise DataTooThin(f"No egg entered the step {step}", "A ledger needs eggs in every step")


def draw_steps(
    trays: Trays,
    terms: Sequence[Terms],
    size: int,
    points: int,
    seed: int,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[tuple[Draws, ...], Judged]:
    """Fits the steps one by one; draws of each, and what the fits say beside them.

    A step in which months stand out is fitted once more with these as terms of their own.

    `progress` is told the share done (0..1) and the step that is next.
    """
    found, doubts, tests = [], [], {}
    for at, (step, term) in enumerate(zip(trays.steps, terms, strict=True)):
        if progress:
            progress(at / len(terms), step)
        fitted, tests[step], runs = _fit_step(trays, at, term)
        if not fitted.convergence.converged:
            doubts.append(f"{step}: {fitted.convergence.words}")
        found.append(given_back(draws(fitted, size, points, seed + at), term, runs))
    return tuple(found), Judged(tuple(doubts), tests)


def _fit_step(trays: Trays, at: int, term: Terms) -> tuple[CrossedFit, Evidence, dict[Key, Months]]:
    """The fit that a step is drawn from, what is tested, and the months that are terms of their own."""
    passed, entering = trays.passed[:, at], trays.entering(at)
    columns = [np.ones(len(trays.eggs)), *(each.dose for each in term.covariates)]
    factors = [each.factor for each in term.groupings]
    model = Model(slope_prior=SLOPE_PRIOR)
    first = fit_on(lay_out(np.column_stack(columns), factors), passed, entering, model)
    tests = evidence(first, term, entering > 0)
    runs = standing_out(tests)
    if not runs:
        return first, tests, runs
    columns += columns_of(term, runs)
    second = fit_on(lay_out(np.column_stack(columns), factors), passed, entering, model)
    return second, judged_again(tests, evidence(second, term, entering > 0), runs), runs


def account(
    trays: Trays,
    target: float,
    terms: Sequence[Terms],
    drawn: Sequence[Draws],
    counted: Flags | None = None,
) -> Account:
    """The ledger for every draw, from effects that are drawn or known.

    Args:
        trays: the trays.
        target: chicks per egg that enters the ladder.
        terms: what each step is explained by.
        drawn: effects of each step, the same number of draws each.
        counted: the trays whose shortfall is shared out, a mask; None = all.
    """
    share = _share(trays, counted)
    split = [
        parts_of(term, one, trays.entering(at) > 0)
        for at, (term, one) in enumerate(zip(terms, drawn, strict=True))
    ]
    rates = np.column_stack([rate(typical.eta, typical.noise) for typical, _ in split])
    worth = np.cumprod(np.column_stack((np.ones(len(rates)), rates[:, ::-1])), axis=1, dtype=float)[:, ::-1]
    groups: dict[str, Floats] = {group: np.zeros(len(rates)) for group in _causes(terms)}
    items: Items = {}
    months: Items = {}
    slopes: Items = {}
    for at, (typical, parts) in enumerate(split):
        cells = cells_of(parts)
        entering, value = trays.entering(at), worth[:, at + 1]
        lost = losses(typical, parts, entering * share, value, [whole for _, whole in cells])
        for part, loss in zip(parts, lost, strict=False):
            groups[part.group] += loss.sum(axis=1)
            _enter(items, part, trays.steps[at], loss)
            if part.levels == NO_LEVELS:
                _enter(slopes, part, trays.steps[at], part.values)
        for (own, whole), loss in zip(cells, lost[len(parts) :], strict=True):
            _enter(months, whole, trays.steps[at], lost[parts.index(own)] + loss)
    eggs, hatched = float(share @ trays.eggs), float(share @ trays.passed[:, -1])
    groups["baseline"] = eggs * (target - worth[:, 0])
    explained = np.sum(list(groups.values()), axis=0)
    groups["chance"] = eggs * target - hatched - explained
    return Account(groups, items, months, slopes, 1 - rates)


def _causes(terms: Sequence[Terms]) -> tuple[str, ...]:
    """The groups that causes are counted to, in their order."""
    several = any(each.group == FARMS for term in terms for each in term.groupings)
    return (*CAUSES[:4], FARMS, *CAUSES[4:]) if several else CAUSES


def _share(trays: Trays, counted: Flags | None) -> Floats:
    """1 for each tray that counts, else 0."""
    if counted is None:
        return np.ones(len(trays.eggs))
    if not (trays.eggs[counted] > 0).any():
        raise DataTooThin("No egg is counted", "A shortfall needs eggs")
    return counted.astype(float)


def _enter(items: Items, part: Part, step: str, loss: Floats) -> None:
    by_step = items.setdefault((part.group, part.name), (part.levels, {}))[1]
    by_step[step] = by_step[step] + loss if step in by_step else loss


def summary(
    trays: Trays,
    target: float,
    terms: Sequence[Terms],
    found: Account,
    judged: Judged = NOTHING_JUDGED,
    counted: Flags | None = None,
) -> LossLedger:
    """Means, intervals and probabilities of an account of the same trays."""
    share = _share(trays, counted)
    return LossLedger(
        eggs_set=float(share @ trays.eggs),
        hatched=float(share @ trays.passed[:, -1]),
        target=target,
        lines=tuple(_line(group, chicks) for group, chicks in found.groups.items()),
        causes=_line("causes", np.sum([found.groups[group] for group in _causes(terms)], axis=0)),
        steps=tuple(_steps(trays, found, share)),
        items=tuple(_items(found, judged.evidence)),
        runs=tuple(_runs(found, judged.evidence)),
        inseparable=_inseparable(terms),
        left_out={name: why for term in terms for name, why in term.left_out.items()},
        doubts=judged.doubts,
        months=tuple(_months_counted(found, judged.evidence)) if _some_months(trays, share) else (),
    )


def _ends(values: Floats) -> Floats:
    """Ends between which 95 of 100 further draws fall: of n the 0.025 (n + 1)th from below and above."""
    return np.asarray(np.quantile(values, [TAIL, 1 - TAIL], axis=0, method="weibull"))


def _line(group: str, values: Floats) -> LedgerLine:
    low, high = _ends(values)
    return LedgerLine(group, float(values.mean()), float(low), float(high), float((values > 0).mean()))


def _steps(trays: Trays, found: Account, share: Floats) -> list[StepLine]:
    lines = []
    for at, step in enumerate(trays.steps):
        entering = float(share @ trays.entering(at))
        lost = entering - float(share @ trays.passed[:, at])
        lines.append(StepLine(step, entering, lost, entering * float(found.expected[:, at].mean())))
    return lines


def _items(found: Account, tests: Mapping[str, Evidence]) -> list[ItemLine]:
    lines = []
    for (group, factor), (levels, by_step) in found.items.items():
        whole = np.sum(list(by_step.values()), axis=0)
        slopes = found.slopes.get((group, factor), ((), {}))[1]
        for step, values in (*by_step.items(), (ALL_STEPS, whole)):
            low, high = _ends(values)
            # what loses chicks both ways from the typical value is no proof of a slope: its own draws are
            judged = slopes.get(step, values)
            rows = np.column_stack((values.mean(axis=0), low, high, p_values(judged))).tolist()
            known = tests[step].p_values if step in tests else {}
            for level, (eggs, least, most, p_value) in zip(levels, rows, strict=True):
                p_value = known.get((factor, level), p_value)
                lines.append(ItemLine(group, factor, level, step, eggs, least, most, p_value))
    return lines


def _runs(found: Account, tests: Mapping[str, Evidence]) -> list[ItemLine]:
    lines = []
    for (group, name), (cells, by_step) in found.months.items():
        for step, lost in by_step.items():
            runs = tests[step].runs if step in tests else {}
            for level, columns in cells_by_level(cells).items():
                run = runs.get((name, level))
                if run is None:
                    continue
                first, last = (columns.index(cells.index(end)) for end in (run.first, run.last))
                line = _line("", lost[:, columns[first : last + 1]].sum(axis=1))
                lines.append(ItemLine(
                    group, name.removesuffix(BY_MONTH), level, step,
                    line.eggs, line.low, line.high, run.p_value, month_of(run.first), month_of(run.last),
                ))  # fmt: skip
    return lines


def _some_months(trays: Trays, share: Floats) -> bool:
    """Whether there are months of which no tray is counted."""
    return len(np.unique(trays.month[share > 0])) < len(np.unique(trays.month))


def _months_counted(found: Account, tests: Mapping[str, Evidence]) -> list[ItemLine]:
    """What each pen and machine lost in the months that are counted, against the typical level.

    Months that have a term of their own because they stand out are no surer than that they do.
    """
    lines = []
    for key, (cells, by_step) in found.months.items():
        for step, whole in by_step.items():
            with_eggs = np.asarray(whole.any(axis=0))
            for level, columns in cells_by_level(cells).items():
                kept = [at for at in columns if with_eggs[at]]
                if kept:
                    values = whole[:, kept].sum(axis=1)
                    line, p_value = _line("", values), float(p_values(values[:, None])[0])
                    run = standing_out(tests[step]).get((key[1], level)) if step in tests else None
                    if run and {cells[at] for at in kept} & set(run.cells):
                        p_value = max(p_value, run.p_value)
                    first, last = month_of(cells[kept[0]]), month_of(cells[kept[-1]])
                    lines.append(ItemLine(
                        key[0], key[1].removesuffix(BY_MONTH), level, step,
                        line.eggs, line.low, line.high, p_value, first, last,
                    ))  # fmt: skip
    return lines


def p_values(values: Floats) -> Floats:
    """Two-sided p value of zero for each column of draws.

    Counted from the draws on the far side of zero; where these are fewer than ten, by the normal
    distribution with the draws' mean and sd, at most what ten draws would give.
    """
    size = len(values)
    far = np.minimum((values >= 0).sum(axis=0), (values <= 0).sum(axis=0))
    sd = values.std(axis=0)
    by_normal: Floats = 2 * ndtr(-np.abs(values.mean(axis=0)) / np.where(sd > 0, sd, np.inf))
    counted: Floats = np.minimum(2 * far / size, 1.0)
    return np.where(far < COUNTED, np.minimum(by_normal, 2 * COUNTED / size), counted)


def _inseparable(terms: Sequence[Terms]) -> tuple[Inseparable, ...]:
    """The pairs of all steps, each once."""
    pairs = {(meeting.first, meeting.second): meeting for term in terms for meeting in term.apart}
    return tuple(
        Inseparable(
            pair,
            tuple((island.first, island.second) for island in meeting.islands),
            tuple((meeting.islands[0].first[0], island.second[0]) for island in meeting.islands[1:]),
        )
        for pair, meeting in pairs.items()
    )
