"""Whose loss it is, in words: the answer, a sentence a part, what was learnt from, and what is left out."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.attribution.findings import HINT
from analytics.attribution.ledger import ItemLine, LedgerLine, LossLedger
from analytics.attribution.shares import JOINED
from analytics.studies.causes_data import LossData
from analytics.studies.causes_findings import (
    FIRM,
    Setting,
    between,
    factor_of,
    level_of,
    lost_words,
    names_words,
    run_words,
)
from analytics.studies.causes_records import CauseFinding, CausesWords, Mark, NotApart, Scope
from analytics.studies.cautions import ROTTEN
from analytics.studies.clear_records import SpeciesClears
from analytics.studies.wording import counted, listed, long_day, percent, species_words

SURE = 0.975
"""A part is said to be a loss where its probability is at least this: its interval lies above nothing."""
WORTH_SAYING = 0.05
"""Share of the shortfall from which the answer itself names a part (our own choice)."""
WORTH_NAMING = 0.15
"""Share of a part from which a finding is named with it (our own choice)."""
FEW_BATCHES = 3
MOST_POINTS = 3
"""Parts that the answer names beneath its line."""
NAMED = 2
"""Pens, machines and so on that the answer itself names for a part."""
_ONE = 0.5
_WHOSE = {
    "flock": "the flock's",
    "handling": "the handling's",
    "incubator": "the incubators'",
    "season": "the season's",
    "shared": "of causes that these records cannot tell apart",
}
_LOST_TO = {
    "flock": "the flock",
    "handling": "handling",
    "incubator": "the incubators",
    "season": "the season",
    "shared": "causes that these records cannot tell apart",
}
_NAMES = {
    "flock": "Flock",
    "handling": "Handling",
    "incubator": "Incubators",
    "season": "Season",
    "shared": "Not to be told apart",
}
AIM_NAMES = {"own": "your aim", "given": "the aim", "rule": "the usual mark"}
"""Whose a mark is -> what it is called."""
_HOLDS = {
    "flock": "what sets pens apart, hens' age and diet",
    "handling": "how long eggs were stored",
    "incubator": "what sets machines and batches apart",
    "season": "what moves all pens in all machines of a month",
    "shared": "they are named beneath, with what would tell them apart",
}
_LEFT_OUT = {
    "pen": "There is one pen only: what its eggs lose more than others stands in the usual hatch.",
    "incubator": "There is one machine only: what it costs all eggs alike stands in the usual hatch.",
    "hatcher": "There is one hatcher only: what it costs all eggs alike stands in the usual hatch.",
    "batch": "Batches cannot be told from chance: there is one tray in each.",
    "month": "Months are not looked at by themselves: too few hold two batches. They are part of the batch.",
    "pen:month": "Whether a pen failed from some month on is not asked: too few months hold two trays "
    "of each.",
    "incubator:month": "Whether a machine failed from some month on is not asked: too few months hold two "
    "batches in each of two machines.",
    "hatcher:month": "Whether a hatcher failed from some month on is not asked: too few months hold two "
    "batches in each of two.",
    "storage": "Storage has no part: all eggs were stored equally long, or the days are not written down.",
    "hen_age": "Hens' age has no part: it is the same in all trays, or the hens' hatch day is not written "
    "down.",
    "sire": "Males have no part of their own: no male stood in two pens, so his part is the pen's.",
    "dam": "Single hens have no part of their own: no hen stood in two pens, so their part is the pen's.",
}
_SOME_APART = {
    "sire": "In {} the male's part is the pen's: its males stood in no other pen.",
    "dam": "In {} the hens' part is the pen's: its hens stood in no other pen.",
}


def causes_words(
    data: LossData,
    book: LossLedger,
    findings: Sequence[CauseFinding],
    apart: Sequence[NotApart],
    clears: SpeciesClears | None,
    setting: Setting,
) -> CausesWords:
    """The answer in words.

    Args:
        data: what it was learnt from.
        book: the ledger.
        findings: what stands out.
        apart: what cannot be told apart.
        clears: what the clear eggs of the selection are likely to be.
        setting: which months are meant.
    """
    counted_scope = data.counted()
    return CausesWords(
        sentence=_sentence(data, counted_scope, book, _surely(book)),
        points=tuple(_points(_surely(book), findings, apart, setting)),
        groups={line.group: _group(line, data.mark) for line in book.lines},
        clears=_clears(data, clears),
        fitted=_fitted(data, counted_scope),
        left_out=tuple(_left_out(data, counted_scope, book)),
        doubts=tuple(_doubts(data, counted_scope, book)),
        caution=ROTTEN if data.ladder.numbers["rotten"][data.ladder.wanted].sum() > 0 else "",
    )


def _sentence(data: LossData, scope: Scope, book: LossLedger, sure: Sequence[LedgerLine]) -> str:
    """One line: what came, what is short, and whose most of it is."""
    mark, short = data.mark, book.shortfall
    came = (
        f"{counted(round(scope.hatched), 'chick')} of "
        f"{counted(round(scope.eggs), f'{species_words(data.asked.species)} egg')}"
    )
    wanted = f"{AIM_NAMES[mark.whose]} of {percent(mark.rate)} %"
    if short >= _ONE:
        return f"{came}: {round(short):,} short of {wanted}{_most_of(book, sure)}."
    more = f", {round(-short):,} more than wanted" if short <= -_ONE else ""
    return f"{came}: that reaches {wanted}{more}{'; still, some were lost' if sure else ''}."


def _most_of(book: LossLedger, sure: Sequence[LedgerLine]) -> str:
    """Whose most of what is short is; never as if a part larger than the whole were a part of it."""
    if not sure:
        return "; whose loss that is, these records do not say for sure"
    first = sure[0]
    if first.eggs <= book.shortfall:
        return f", about {round(first.eggs):,} of them {_WHOSE[first.group]}"
    return f"; most were lost to {_LOST_TO[first.group]}"


def _points(
    sure: Sequence[LedgerLine],
    findings: Sequence[CauseFinding],
    apart: Sequence[NotApart],
    setting: Setting,
) -> list[str]:
    """The parts that are surely losses, each with what stands out in it, and what cannot be told apart."""
    said = [
        f"{_NAMES[line.group]}: about {counted(round(line.eggs), 'chick')} "
        f"({between(line.low, line.high)}){_named(line, findings, setting)}."
        for line in sure[:MOST_POINTS]
    ]
    if not sure and findings:
        said.append(f"What stands out by itself: {_names(findings, setting)}.")
    if apart:
        what = listed(list(apart[0].levels)) or names_words(list(apart[0].factors))
        said.append(f"Not to be told apart yet: {what}. What would settle it is said below.")
    return said


def _surely(book: LossLedger) -> list[LedgerLine]:
    """Parts that are losses with near certainty and large enough to be said, the largest first."""
    least = max(1.0, WORTH_SAYING * abs(book.shortfall))
    return [
        line
        for line in sorted(book.lines, key=lambda line: -line.eggs)
        if line.group in _WHOSE and line.probability_positive >= SURE and line.eggs >= least
    ]


def _named(line: LedgerLine, findings: Sequence[CauseFinding], setting: Setting) -> str:
    """What stands out in a part, the largest first; "" where nothing that is a good share of it does."""
    own = [
        one for one in findings if one.item.group == line.group and one.item.eggs >= WORTH_NAMING * line.eggs
    ]
    own.sort(key=lambda one: -one.item.eggs)
    if not own:
        return ""
    return f", {'' if own[0].strength == HINT else 'above all '}{_names(own, setting)}"


def _names(findings: Sequence[CauseFinding], setting: Setting) -> str:
    """The first of them, those of one pen, machine or diet as one."""
    of: dict[tuple[str, str], list[CauseFinding]] = {}
    for one in findings:
        of.setdefault((factor_of(one.item), level_of(one.item)), []).append(one)
    named = list(of.values())[:NAMED]
    return listed([_name(same, setting, only=len(named) == 1) for same in named])


def _name(same: Sequence[CauseFinding], setting: Setting, *, only: bool) -> str:
    """`Rowan, whose eggs were infertile from March 2026 on`, `perhaps days of storage (eggs died early)`."""
    item = same[0].item
    became = listed([f"{lost_words(one.item.step, setting)}{run_words(one.item, setting)}" for one in same])
    perhaps = "perhaps " if same[0].strength == HINT else ""
    if factor_of(item) == "pen" and only:
        return f"{perhaps}{level_of(item)}, whose eggs {became}"
    return f"{perhaps}{called(item)} (eggs {became})"


def called(item: ItemLine) -> str:
    """Who or what a finding is about, within a sentence: `Hazel`, `the diet "grain"`, `days of storage`."""
    factor, level = factor_of(item), level_of(item)
    names = {"diet": f'the diet "{level}"', "batch": f"batch {level}", "month": "a month"}
    return names.get(factor, listed(level.split(", ")) if level else names_words(item.factor.split(JOINED)))


def said_plainly(finding: CauseFinding) -> str:
    """The finding's sentence without how sure it is, for where that stands beside it."""
    said = finding.sentence.removeprefix(FIRM[finding.strength])
    return f"{said[:1].upper()}{said[1:]}"


def _group(line: LedgerLine, mark: Mark) -> str:
    if line.group == "baseline":
        return (
            "With the usual pen, machine, batch and month these eggs would end "
            f"{_ahead_or_short(line.eggs)} of {AIM_NAMES[mark.whose]} of {percent(mark.rate)} % "
            f"(from {_ahead_or_short(line.low)} to {_ahead_or_short(line.high)})."
        )
    if line.group == "chance":
        chicks, low, high = (_lost_or_won(eggs) for eggs in (line.eggs, line.low, line.high))
        return f"{chicks} (from {low} to {high}) are chance: single trays that fell out so."
    chicks = f"{counted(round(abs(line.eggs)), 'chick')} ({between(line.low, line.high)})"
    holds = f"{_WHOSE[line.group]}: {_HOLDS[line.group]}"
    if line.low > 0:
        return f"About {chicks} are {holds}."
    if line.high < 0:
        won = between(-line.high, -line.low)
        return f"About {-line.eggs:,.0f} chicks more than typical ({won}) are {holds}."
    if line.eggs < 0:
        chicks = f"{counted(round(-line.eggs), 'chick')} more than typical ({between(-line.high, -line.low)})"
    return f"{chicks}, perhaps none, are {holds}."


def _lost_or_won(eggs: float) -> str:
    return f"{counted(round(abs(eggs)), 'chick')} {'lost' if eggs >= 0 else 'won'}"


def _ahead_or_short(eggs: float) -> str:
    return f"{counted(round(abs(eggs)), 'chick')} {'short' if eggs >= 0 else 'ahead'}"


def _clears(data: LossData, told: SpeciesClears | None) -> str:
    clear = float(data.ladder.numbers["clear"][data.ladder.wanted].sum())
    if clear < _ONE:
        return ""
    said = (
        "Clear eggs that were not told apart, and such as are likely among the unopened, are taken as "
        "infertile here. Those that died before anything showed belong to the early dead: whose loss they "
        "are stays the same, the step does not."
    )
    return f"{said} {told.sentence if told else ''}".rstrip()


def _fitted(data: LossData, scope: Scope) -> str:
    ladder = data.ladder
    first, last = (day.item() for day in (ladder.hatch_on.min(), ladder.hatch_on.max()))
    trays = counted(len(ladder.eggs), "tray")
    said = f"Learnt from {trays} that hatched from {long_day(first)} to {long_day(last)}"
    said += "." if scope.trays == len(ladder.eggs) else f", counted in {scope.trays:,} of them."
    if data.older:
        older = counted(data.older, "older tray")
        said += f" {older} {_are(data.older)} left aside, so that the answer does not take too long."
    if len(ladder.steps) == 1:
        said += (
            " At which step eggs were lost is written down for too few of them, so only the hatch as a whole "
            "is shared out."
        )
    return said


def _are(number: int) -> str:
    return "is" if number == 1 else "are"


def _left_out(data: LossData, scope: Scope, book: LossLedger) -> list[str]:
    said = []
    older, left = data.older_wanted[0], scope.left_out
    if older:
        trays = counted(older, "tray")
        said.append(f"{trays} asked for {_are(older)} too old to be learnt from, and not counted.")
    if left:
        said.append(f"{counted(left, 'tray')} without the counts that this needs {_are(left)} left out.")
    names = [*book.left_out, *data.parents.all_one]
    said += [_LEFT_OUT[name] for name in names if name in _LEFT_OUT]
    said += [_SOME_APART[name].format(listed(data.parents.one_pens(name))) for name in data.parents.some_one]
    diets = [name.removeprefix("diet ") for name in names if name not in _LEFT_OUT]
    return said + [f'The diet "{name}" has no part: it does not vary.' for name in diets]


def _doubts(data: LossData, scope: Scope, book: LossLedger) -> list[str]:
    said = [f"The fit of one step did not settle ({doubt}); read it with care." for doubt in book.doubts]
    if scope.batches < FEW_BATCHES:
        batches = counted(scope.batches, "batch", "batches")
        said.append(f"Only {batches} counted: what is a batch's own and what is chance is hard to tell.")
    if round(scope.cracked):
        said.append(_cracked(data.mark, scope))
    if data.mark.whose == "rule":
        said.append("The mark is a rule of thumb. It moves the part of the usual hatch only, not the others.")
    if len(data.ladder.steps) == 1:
        said.append("Without the steps infertile eggs and dead ones are one: open what did not hatch.")
    return said


def _cracked(mark: Mark, scope: Scope) -> str:
    """That cracked eggs are not in the parts, and what is short of the mark with them."""
    cracked, every = round(scope.cracked), scope.eggs + scope.cracked
    short = round(mark.rate * every - scope.hatched)
    how = "short of" if short >= 0 else "more than"
    return (
        f"{counted(cracked, 'egg')} cracked before or at setting {_are(cracked)} not in this: the mark is "
        f"held against the others. Of all {round(every):,} eggs set, {counted(abs(short), 'chick')} "
        f"{_are(abs(short))} {how} {percent(mark.rate)} %."
    )
