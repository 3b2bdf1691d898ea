"""Whose loss is it, over many farms: the flocks', the machines', the season's, or what sets farms apart?

Counts per stratum come from a partitioned set, by any engine; the same ledger as of one store learns from
them, with farms as a further level. Trays of a stratum are one: batches, males and diets are not in a set.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analytics.attribution.evidence import Judged
from analytics.attribution.farms import FARM, FARMS, with_farms
from analytics.attribution.findings import findings
from analytics.attribution.ledger import (
    ALL_STEPS,
    Account,
    LossLedger,
    account,
    check_eggs,
    check_target,
    draw_steps,
    summary,
)
from analytics.attribution.terms import Terms, terms_of
from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.reference.marks import usual_mark
from analytics.store.farm_counts import ENGINES, Connection, FarmsAsked, farm_sums
from analytics.store.farm_set import farms_of
from analytics.studies.causes_farms_words import farm_finding, farms_words
from analytics.studies.causes_findings import Setting
from analytics.studies.causes_records import Causes, CausesAnswer, Mark, NoAnswer, NotApart
from analytics.studies.clear_records import Clears
from analytics.studies.farm_data import OF, FarmStrata, farm_strata
from analytics.studies.ledger_drawn import POINTS, SEED, SIZE
from analytics.studies.wording import listed, percent, species_words

Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True)
class FarmLine:
    """One farm.

    Attributes:
        species: key.
        farm: name.
        trays: trays of closed batches.
        eggs: eggs set and not cracked in trays whose hatch is known.
        hatched: chicks out of them.
        learnt: whether the ledger learnt from it; the rest is None where not.
        lost: chicks lost by what sets the farm apart from the typical one; negative = won.
        low: lower end of its 95 % interval.
        high: upper end.
        p_value: of no difference from the others, the smallest of the steps times their number, at most 1.
    """

    species: str
    farm: str
    trays: int
    eggs: int
    hatched: int
    learnt: bool
    lost: float | None = None
    low: float | None = None
    high: float | None = None
    p_value: float | None = None


@dataclass(frozen=True, slots=True)
class FarmCauses:
    """Whose loss it is over a set of farms.

    Attributes:
        causes: the answer, in the same form as that of one store.
        farms: every farm that is counted, by species and name.
        engine: which engine summed.
        trays: trays it summed, of all species asked for.
    """

    causes: Causes
    farms: tuple[FarmLine, ...]
    engine: str
    trays: int


def causes_of_farms(
    folder: Path,
    asked: FarmsAsked,
    *,
    engine: str = "duckdb",
    target: float | None = None,
    progress: Progress | None = None,
) -> FarmCauses:
    """Shares the chicks short of a mark out over causes and farms, species by species.

    Args:
        folder: the set.
        asked: what is counted; learnt is from all farms up to its last month.
        engine: one of `ENGINES`.
        target: chicks per egg set, 0..1; None = a rule of thumb.
        progress: told the share done (0..1) and what is being done.

    Raises:
        WrongUsage: no set, no such engine, a filter that names nothing, days within a month.
        DataTooThin: no species allows an answer; says why.
        StoreError: the engine could not do it.
    """
    if target is not None:
        check_target(target)
    asked.values()
    if engine not in ENGINES:
        raise WrongUsage(f"The engine {engine}", f"There are {listed(sorted(ENGINES))}")
    answers: list[CausesAnswer] = []
    without: list[NoAnswer] = []
    lines: list[FarmLine] = []
    with ENGINES[engine](folder) as connection:
        _refuse_strangers(folder, asked)
        sums = farm_sums(connection, asked)
        if not sums:
            raise WrongUsage(
                "Nothing in this set fits the filters", "They name farms, pens, machines or months of it"
            )
        for at, species in enumerate(_by_eggs(sums)):
            own = [row for row in sums if row["species"] == species]
            told = _part(progress, at / len(sums))
            found, judged = _of_species(connection, species, asked, own, target, told)
            if isinstance(found, CausesAnswer):
                answers.append(found)
            else:
                without.append(found)
            lines += [_line(row, judged) for row in own]
    if not answers:
        raise DataTooThin(without[0].why, " ".join(one.why for one in without[1:]))
    causes = Causes(asked.selection, tuple(answers), tuple(without), Clears(asked.selection, ()))
    return FarmCauses(causes, tuple(lines), engine, sum(row["trays"] for row in sums))


def _refuse_strangers(folder: Path, asked: FarmsAsked) -> None:
    known = farms_of(folder)
    keys = {name.strip().lower() for name in known}
    for name in asked.farms:
        if name.strip().lower() not in keys:
            raise WrongUsage(f"No farm {name} in this set", f"There are {listed(list(known[:20]))}")


def _part(progress: Progress | None, start: float) -> Progress | None:
    if progress is None:
        return None
    told = progress
    return lambda share, what: told(start + share * (1 - start), what)


def _by_eggs(sums: Sequence[Mapping[str, Any]]) -> list[str]:
    eggs: dict[str, int] = {}
    for row in sums:
        eggs[row["species"]] = eggs.get(row["species"], 0) + row["eggs_set"]
    return sorted(eggs, key=lambda species: (-eggs[species], species))


Judgement = Mapping[str, tuple[float, float, float, float]]
"""Farm -> chicks lost, the ends of the interval, p value."""


def _of_species(
    connection: Connection,
    species: str,
    asked: FarmsAsked,
    sums: Sequence[Mapping[str, Any]],
    target: float | None,
    progress: Progress | None,
) -> tuple[CausesAnswer | NoAnswer, Judgement]:
    data = farm_strata(connection, species, asked)
    why = _why_not(data, species)
    if why:
        return NoAnswer(species, why), {}
    try:
        check_eggs(data.trays)
        terms = farm_terms(data)
        drawn, judged = draw_steps(data.trays, terms, SIZE, POINTS, SEED, progress)
    except DataTooThin as error:
        return NoAnswer(species, error.sentence()), {}
    mark = _mark(species, target)
    found = account(data.trays, mark.rate, terms, drawn, data.wanted)
    book = summary(data.trays, mark.rate, terms, found, judged, data.wanted)
    answer = _answer(species, asked.selection, data, sums, mark, book, found)
    return answer, _of_farms(book, judged)


def farm_terms(data: FarmStrata) -> list[Terms]:
    """What each step is explained by, farms among it."""
    trays = data.trays
    return [with_farms(terms_of(trays, step), data.farm, trays.eggs > 0) for step in trays.steps]


def _why_not(data: FarmStrata, species: str) -> str:
    name = species_words(species)
    if not data.wanted.any():
        return f"None of the {name} trays asked for can be learnt from."
    eggs, chicks = float(data.trays.eggs.sum()), float(data.trays.passed[:, -1].sum())
    if not 0 < chicks < eggs:
        return f"{'All' if chicks else 'None'} of the {name} eggs hatched: there is nothing to share out."
    return ""


def _mark(species: str, target: float | None) -> Mark:
    if target is not None:
        return Mark(target, "given", "one that you gave")
    usual = usual_mark(species).hatch_of_set
    return Mark(
        usual,
        "rule",
        f"a rule of thumb without a source, {percent(usual)} % of set: give your own by --target",
    )


def _answer(
    species: str,
    selection: Selection,
    data: FarmStrata,
    sums: Sequence[Mapping[str, Any]],
    mark: Mark,
    book: LossLedger,
    found: Account,
) -> CausesAnswer:
    trays, wanted = data.trays, data.wanted
    every, ours = np.unique(trays.month), np.unique(trays.month[wanted])
    setting = Setting(
        str(every[0]),
        str(every[-1]),
        months_counted=("", "") if wanted.all() else (str(ours[0]), str(ours[-1])),
        clear=bool(data.sums["clear"][wanted].sum() > 0),
        slopes={
            (factor, step): float(values.mean())
            for (_, factor), (_, by_step) in found.slopes.items()
            for step, values in by_step.items()
        },
    )
    standing = tuple(farm_finding(one, setting) for one in findings(book))
    asked = sum(row["trays"] for row in sums), sum(row["eggs_set"] for row in sums)
    held = int(data.sums["trays"][wanted].sum()), round(float(data.sums["eggs_set"][wanted].sum()))
    counted = data.scope(wanted, (asked[0] - held[0], asked[1] - held[1]))
    apart = _apart(book)
    return CausesAnswer(
        species=species,
        selection=selection,
        counted=counted,
        fitted=data.scope(trays.eggs > 0),
        mark=mark,
        groups=book.lines,
        causes=book.causes,
        steps=book.steps,
        findings=standing,
        cannot_separate=apart,
        stripes=(),
        words=farms_words(species, data, counted, mark, book, standing, apart),
    )


def _apart(book: LossLedger) -> tuple[NotApart, ...]:
    """Pens and machines of one farm that met only each other; what lies between farms is the farms'."""
    items = {
        (item.factor, item.level): item
        for item in book.items
        if item.group == "shared" and item.step == ALL_STEPS
    }
    found = []
    for item in items.values():
        if item.level and item.high > item.low:
            farm = item.level.split(OF)[0]
            found.append(
                NotApart(
                    factors=tuple(item.factor.split(" and ")),
                    levels=tuple(item.level.split(", ")),
                    eggs=item.eggs,
                    low=item.low,
                    high=item.high,
                    why=f"{item.level} met nothing else of {farm}: a loss may be the pen's or the machine's.",
                    next_step="Set some of these eggs in another machine of the farm, and others' in theirs.",
                )
            )
    return tuple(sorted(found, key=lambda one: -abs(one.eggs or 0.0)))


def _of_farms(book: LossLedger, judged: Judged) -> Judgement:
    """Chicks lost over all steps, and the smallest p value of the steps allowed for their number."""
    found = {}
    for item in book.items:
        if item.group == FARMS and item.step == ALL_STEPS:
            by_step = [
                tests.p_values[FARM, item.level]
                for tests in judged.evidence.values()
                if (FARM, item.level) in tests.p_values
            ]
            p_value = min(1.0, min(by_step, default=1.0) * len(by_step)) if by_step else 1.0
            found[item.level] = item.eggs, item.low, item.high, p_value
    return found


def _line(row: Mapping[str, Any], judged: Judgement) -> FarmLine:
    counts = row["species"], row["farm"], row["trays"], row["hatch_followed"], row["hatch_chicks"]
    told = judged.get(row["farm"])
    return FarmLine(*counts, True, *told) if told else FarmLine(*counts, False)
