"""Whose loss it is over many farms, in words."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.attribution.farms import FARM
from analytics.attribution.findings import Finding
from analytics.attribution.ledger import ItemLine, LedgerLine, LossLedger
from analytics.studies.causes_findings import FIRM, Setting, between, cause_finding, chicks_words, lost_words
from analytics.studies.causes_records import HATCH, CauseFinding, CausesWords, Mark, NotApart, Scope
from analytics.studies.cautions import ROTTEN
from analytics.studies.farm_data import FarmStrata
from analytics.studies.wording import counted, listed, month_name, percent, species_words
from analytics.values import Month

SURE = 0.975
_WHOSE = {
    "flock": "the flocks'",
    "handling": "the handling's",
    "incubator": "the machines'",
    "season": "the season's",
    "farms": "what sets farms apart",
    "shared": "of causes that these records cannot tell apart",
}
_HOLDS = {
    "flock": "what sets the pens of a farm apart, and hens' age",
    "handling": "how long eggs were stored",
    "incubator": "what sets the machines of a farm and their months apart",
    "season": "what moves all pens of all farms in a month",
    "farms": "what a farm's eggs have in common: birds, machines, care; a set cannot tell which of these",
    "shared": "pens and machines of one farm that met only each other, and what goes together",
}
_LEFT_OUT = {
    FARM: "There is one farm only: what sets it apart stands in the usual hatch.",
    "pen": "There is one pen only.",
    "incubator": "There is one machine only.",
    "month": "Months are not looked at by themselves: too few hold two machines.",
    "storage": "Storage has no part: all eggs were stored equally long, or the days are not written down.",
    "hen_age": "Hens' age has no part: it is the same in all, or the hens' hatch day is not written down.",
}
NOT_IN_A_SET = (
    "A set of farms holds no batches, males and diets: what is a batch's stands with its machine's month, "
    "and males and diets with the pens."
)
_NEXT = (
    "Look at this farm beside a good one: males, feed, gathering, storage, machines. Let some of its eggs be "
    "set elsewhere to tell birds from machines."
)


def farm_finding(found: Finding, setting: Setting) -> CauseFinding:
    """The finding with its words: farms and months of machines have their own."""
    item = found.item
    what = _what(item, setting)
    if not what:
        return cause_finding(found, setting)
    said = f"{FIRM[found.strength]}{what}: {chicks_words(item.eggs, item.low, item.high)}."
    check = _NEXT if item.factor == FARM else "Look at what happened to this machine in this month."
    return CauseFinding(item, found.q_value, found.strength, f"{said[0].upper()}{said[1:]}", check)


def _what(item: ItemLine, setting: Setting) -> str:
    lost = lost_words(item.step, setting)
    if item.factor == FARM:
        return f"more of {item.level}'s eggs {lost} than of a typical farm's"
    if item.factor == "batch":
        machine, month = item.level.rsplit(", ", 1)
        return f"more eggs set in {machine} in {month_name(Month.parse(month))} {lost} than is usual"
    return ""


def farms_words(
    species: str,
    data: FarmStrata,
    scope: Scope,
    mark: Mark,
    book: LossLedger,
    findings: Sequence[CauseFinding],
    apart: Sequence[NotApart],
) -> CausesWords:
    """The answer in words.

    Args:
        species: key.
        data: what was learnt from.
        scope: what is counted.
        mark: what chicks are held against.
        book: the ledger.
        findings: what stands out.
        apart: what cannot be told apart.
    """
    sure = sorted((line for line in book.lines if line.group in _WHOSE and line.probability_positive >= SURE),
                  key=lambda line: -line.eggs)  # fmt: skip
    points = [f"{_said(line)}." for line in sure[:3]]
    if apart:
        points.append(f"Not to be told apart yet: {listed(list(apart[0].levels))}.")
    return CausesWords(
        sentence=_sentence(species, scope, mark, book, sure),
        points=tuple(points),
        groups={line.group: _group(line, mark) for line in book.lines},
        clears="Clear eggs are taken as infertile." if data.sums["clear"][data.wanted].sum() > 0 else "",
        fitted=_fitted(data, scope),
        left_out=tuple(_left_out(data, scope, book)),
        doubts=tuple(_doubts(data, mark, book)),
        caution=ROTTEN if data.sums["rotten"][data.wanted].sum() > 0 else "",
    )


def _sentence(species: str, scope: Scope, mark: Mark, book: LossLedger, sure: Sequence[LedgerLine]) -> str:
    eggs = counted(round(scope.eggs), f"{species_words(species)} egg")
    came = f"{counted(round(scope.hatched), 'chick')} of {eggs}"
    short = book.shortfall
    if short < 0.5:
        return f"{came}: that reaches the mark of {percent(mark.rate)} %."
    most = (
        f"; most were lost to {_WHOSE[sure[0].group]}"
        if sure
        else "; whose loss that is, these records do not say for sure"
    )
    if sure and sure[0].group != "farms":
        most = f"; the largest sure part is {_WHOSE[sure[0].group]}"
    return f"{came}: {round(short):,} short of the mark of {percent(mark.rate)} %{most}."


def _said(line: LedgerLine) -> str:
    whose = _WHOSE[line.group]
    return f"{whose[0].upper()}{whose[1:]}: {chicks_words(line.eggs, line.low, line.high)}"


def _group(line: LedgerLine, mark: Mark) -> str:
    won = line.eggs < 0
    low, high = (-line.high, -line.low) if won else (line.low, line.high)
    chicks = f"{counted(round(abs(line.eggs)), 'chick')} ({between(low, high)})"
    if line.group == "baseline":
        side = "ahead" if won else "short"
        usual = "With the usual farm, pen, machine and month"
        return f"{usual}: {chicks} {side} of the mark of {percent(mark.rate)} %."
    if line.group == "chance":
        return f"{chicks} {'won' if won else 'lost'} are chance."
    unsure = "" if line.low > 0 or line.high < 0 else ", perhaps none,"
    return f"{chicks} {'more' if won else 'fewer'} than typical{unsure} by {_HOLDS[line.group]}."


def _fitted(data: FarmStrata, scope: Scope) -> str:
    bound, trays = data.bound, data.trays
    months = sorted(set(trays.month.tolist()))
    first, last = month_name(Month.parse(months[0])), month_name(Month.parse(months[-1]))
    said = (
        f"Learnt from {counted(int(data.sums['trays'].sum()), 'tray')} of "
        f"{counted(len(set(data.farm)), 'farm')}, {first} to {last}, summed to {len(trays.eggs):,} strata"
    )
    said += f"; {scope.trays:,} trays are counted."
    if bound.joined:
        said += (
            " Eggs stored for short and for long are summed, with their mean days, so that more months fit."
        )
    if bound.older:
        said += (
            f" {counted(bound.older, 'older tray')} left aside, so that the answer does not take too long."
        )
    if bound.other:
        said += f" {counted(len(bound.other), 'farm')} with fewer eggs left aside likewise, and only counted."
    if trays.steps == (HATCH,):
        said += (
            " At which step eggs were lost is told for too few of them: the hatch as a whole is shared out."
        )
    return said


def _left_out(data: FarmStrata, scope: Scope, book: LossLedger) -> list[str]:
    said = [NOT_IN_A_SET]
    if scope.left_out:
        said.append(
            f"{counted(scope.left_out, 'tray')} asked for not in this: too old, of a farm left aside, or "
            "without the counts that this needs."
        )
    return said + [_LEFT_OUT[name] for name in book.left_out if name in _LEFT_OUT]


def _doubts(data: FarmStrata, mark: Mark, book: LossLedger) -> list[str]:
    said = [f"The fit of one step did not settle ({doubt}); read it with care." for doubt in book.doubts]
    if len(set(data.farm)) < 4:
        said.append(
            "So few farms hardly tell how much farms differ: what is said of them leans on what is assumed."
        )
    if mark.whose == "rule":
        said.append("The mark is a rule of thumb. It moves the part of the usual hatch only, not the others.")
    return said
