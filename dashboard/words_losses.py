"""What the page of losses says; goes with words.py into another language."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from analytics.attribution.ledger import ItemLine, LedgerLine, StepLine
from analytics.measures.clear_records import ClearInformed, ClearShare
from analytics.studies.causes_records import (
    ALL,
    HATCH,
    CauseFinding,
    CausesAnswer,
    Mark,
    NoAnswer,
    NotApart,
    Scope,
    StripeBatch,
    StripeCell,
    StripeMap,
    TrayRow,
)
from analytics.studies.wording import (
    STRENGTHS,
    counted,
    listed,
    month_name,
    percent,
    percent_range,
    species_words,
)
from analytics.values import Interval, Month
from dashboard.words import MONTHS, NOT_KNOWN, count, day

if TYPE_CHECKING:
    from analytics.studies.trays_behind import Behind, TraysFound
    from dashboard.charts_losses_map import Total

PAGE = "Losses"
TITLE = "Whose loss is it: flock, handling or incubator?"
WAIT_TITLE = "Sharing out the loss"
WAIT = (
    "Every step from setting to chick is gone through, tray by tray, and what pens, machines, batches, "
    "storage and months have to do with it is weighed against chance.",
    "This takes some seconds, with very many trays a minute. Then it is kept until the records change.",
)
WAIT_BEGINS = "Reading the trays"
TOO_THIN = "That cannot be answered from these records"
FILTER_BIRD = "Birds"
FILTER_TARGET = "Chicks wanted of 100 eggs"
TARGET_BLANK = "your aim"
TARGET_HELP = (
    "Of eggs set and not cracked. Blank: your own aim in the sheet targets, or else a rule of thumb; "
    "the page says which."
)
FILTER_WINDOW = "Batches shown"
ALL_BATCHES = "all batches at once"

GROUPS: dict[str, str] = {
    "flock": "Flock",
    "handling": "Handling",
    "incubator": "Incubator",
    "season": "Season",
    "shared": "Not told apart",
    "baseline": "Usual hatch",
    "chance": "Chance",
}
GROUP_HOLDS: dict[str, str] = {
    "flock": "pens, lines, the hens' age, diets, sires and dams",
    "handling": "days of storage",
    "incubator": "machines, and what sets batches apart",
    "season": "what moves all pens in all machines of a month",
    "shared": "what the records cannot tell apart",
    "baseline": "what the usual pen, machine, batch and month would give, against the mark",
    "chance": "what no cause explains",
}
WHOLE = "Short of the mark"
STEP_LOST: dict[str, str] = {
    "fertile": "Infertile",
    "early": "Dead early",
    "mid": "Dead in the middle",
    "late": "Dead late",
    "shell": "Dead in the shell",
    HATCH: "Did not hatch",
}
STEP_PASSED: dict[str, str] = {
    ALL: "chicks, the whole way",
    "fertile": "fertile eggs",
    "early": "past early death",
    "mid": "past middle death",
    "late": "past late death",
    "shell": "out of the shell",
    HATCH: "hatch of what was set",
}
STEPS_HEADING = "Where the eggs went"
STEPS_KEY = (
    "Bar: eggs lost in the step. Upright line: what typical trays would have lost of the eggs that came so "
    "far. A bar beyond its line is a loss more than usual."
)
SHARES_HEADING = "Whose loss it was"
SHARES_KEY = (
    "Each bar begins where the one above it ends, so that together they come to what is short of the mark. "
    "Filled: chicks lost. Hollow, to the left: chicks won. Thin line beneath: the 95 % range of its end."
)
MAP_HEADING = "Stripes: pens by batches"
MAP_CAUTION = "A single mark is most often chance."
MAP_KEY = "Square: fewer than expected. Ring: more. Dot: about as many. The larger, the more eggs."
MAP_CORNER = "Machine"
MAP_SUM = "All"
MAP_ALL_PENS = "All pens"
MAP_HINT = (
    "Press a mark to see the trays behind it. To read it here, point at it, or go to it with Tab and the "
    "arrow keys."
)
MAP_SLIDE = "Slide the map sideways for the other batches."
MAP_NONE = "There are no stripes to show: no batch holds eggs that can be followed."
KEY_FEWER = "fewer than expected: strong, plain, slight"
KEY_MORE = "more than expected"
KEY_NEAR = "about as many as expected"
KEY_FEW = "few eggs: small, and never more than slight"
FINDINGS_HEADING = "What stands out"
FINDINGS_NONE = "Nothing stands out from chance. That is no proof that all is well: few eggs hide much."
FINDINGS_KEY = (
    "Chicks with their 95 % range. Of findings with strong evidence at most about one in 1,000 is a false "
    "alarm, of likely ones one in 100, of hints one in 20. Each is a candidate, not a proof."
)
FINDING_TRAYS = "See its trays"
APART_HEADING = "What cannot be told apart"
APART_NONE = "Nothing: pens, machines, batches and storage overlap enough to be told apart."
APART_NEXT = "What would settle it"
CLEARS_HEADING = "Clear eggs"
CLEARS_NONE = "No clear eggs are left that were not told apart."
NUMBERS_HEADING = "The numbers"
NUMBERS_FOLDED = "All findings as a table"
MADE_HEADING = "How this was worked out"
MADE = (
    "Every step is explained by pen, machine, batch, month, storage and the hens' age together, so that a "
    "pen is not blamed for its machine. The fewer eggs speak for a part, the nearer to the usual it is "
    "taken to be.",
    "A tray's distance from the typical tray is the sum of these parts. Its lost eggs are shared out in "
    "proportion, and an egg lost early counts as the chick it would most likely have become.",
    "Ranges are meant to hold the true value 95 times in 100. Chance is what is left over; it makes the "
    "parts add up.",
    "A mark of the stripes is as strong as its distance from the expected: under 1, from 1, from 2 and "
    "from 3 times what chance and a tray's own noise would make of so many eggs.",
)
CARE_HEADING = "Read with care"
LEFT_OUT_HEADING = "What has no part"
RECORD = "The record of one of them"
RECORD_LEDE = "It is a row of the sheet `trays`. On the page of records it can be set aside, with a reason."
NOT_RECORDED = "not recorded"
TRAYS_NONE = "No tray of these is in the records that are shown."
TRAYS_OF_STEP = "See the trays that lost most:"
TRAYS_SHOW = "See these trays"
ANY = "any"

COL_STEP = "Step"
COL_ENTERING = "Eggs that came so far"
COL_LOST = "Lost"
COL_EXPECTED_LOST = "Typical trays"
COL_MORE = "More than typical"
COL_GROUP = "Whose"
COL_HOLDS = "What it holds"
COL_CHICKS = "Chicks lost"
COL_RANGE = "Range"
COL_SURE = "Lost, not won"
COL_PEN = "Pen"
COL_MACHINE = "Machine"
COL_BATCH = "Batch"
COL_TRAY = "Tray"
COL_EGGS = "Eggs"
COL_CAME = "Came through"
COL_EXPECTED = "Expected"
COL_DIFFERENCE = "Difference"
COL_BATCHES_BELOW = "Batches below"
COL_PENS_BELOW = "Pens below"
COL_BELOW = "Marks below"
COL_SET_ON = "Set on"
COL_STORED = "Stored"
COL_CHICK = "Chicks"
COL_REST = "What became of the rest"
COL_FINDING = "What"
COL_WHERE = "Step"
COL_CLEAR = "Clear eggs"
COL_INFERTILE = "Of them infertile"
COL_EARLY = "Of them dead early"
COL_STRENGTH = "How sure"
COL_P = "p"
COL_Q = "q"
DOWNLOAD_MAP = "Take all marks"
DOWNLOAD_TRAYS = "Take these trays"
OUTCOMES: dict[str, str] = {
    "infertile": "infertile",
    "clear": "clear",
    "early_dead": "dead early",
    "mid_dead": "dead in the middle",
    "late_dead": "dead late",
    "internal_pip": "pipped inside",
    "external_pip": "pipped outside",
    "rotten": "rotten",
    "cracked": "cracked",
    "not_opened": "not opened",
    "unaccounted": "not accounted for",
    "culled": "chicks not kept",
}


def waiting_for(what: str) -> str:
    """Which step is being worked out."""
    return f"Weighing: {STEP_PASSED.get(what, what)}"


def early_share(share: ClearShare) -> str:
    """20-60 %: how many of the clear eggs may have died early."""
    if share.early_share is None:
        return NOT_KNOWN
    low, high = (min(max(end, 0.0), 1.0) for end in share.early_share)
    return percent_range(Interval(low, high, 0.95, ""))


def clears_note(informed: ClearInformed) -> str:
    """What the sharing out of clear eggs rests on."""
    if informed.silent:
        return "Nothing in the records tells infertile from very early dead: all of it is left open."
    return (
        f"This rests on {number(informed.eggs)} eggs in {counted(informed.trays, 'tray')}, stored for "
        f"{stored(informed.storage_low)} to {stored(informed.storage_high)}, and on "
        f"{counted(informed.fresh_eggs, 'fresh egg')} opened. Waiting makes no egg infertile, but kills some "
        "early: so what grows with the days of storage is early death."
    )


def number(eggs: float) -> str:
    """412, -3: whole, with a true minus."""
    return _with_minus(round(eggs), ",.0f")


def portion(eggs: float) -> str:
    """18.2: to a tenth where it is not whole, for the few eggs of a tray."""
    tenths = round(eggs, 1)
    return _with_minus(tenths, ",.0f" if float(tenths).is_integer() else ",.1f")


def _with_minus(rounded: float, form: str) -> str:
    return f"−{abs(rounded):{form}}" if rounded < 0 else f"{abs(rounded):{form}}"


def chicks(amount: float) -> str:
    """412 chicks."""
    text = number(amount)
    return f"{text} chick" if text == "1" else f"{text} chicks"


def between(low: float, high: float) -> str:
    """310 to 520."""
    return f"{number(low)} to {number(high)}"


def with_range(line: LedgerLine) -> str:
    """412 (310 to 520)."""
    return f"{number(line.eggs)} ({between(line.low, line.high)})"


def line_words(line: LedgerLine) -> str:
    """412 chicks lost (310 to 520)."""
    verb = "lost" if line.eggs >= 0 else "won"
    low, high = (line.low, line.high) if line.eggs >= 0 else (-line.high, -line.low)
    return f"{chicks(abs(line.eggs))} {verb} ({between(low, high)})"


def of_entering(step: StepLine) -> str:
    """of 8,120 eggs."""
    return f"{number(step.lost)} of {number(step.entering)}"


def step_words(step: StepLine) -> str:
    """412 of 8,120 eggs, typical trays 350."""
    return f"{of_entering(step)} eggs, typical trays {number(step.expected_lost)}"


def steps_alt(steps: Sequence[StepLine]) -> str:
    """The picture of the steps as a sentence."""
    each = "; ".join(f"{STEP_LOST[one.step].lower()} {step_words(one)}" for one in steps)
    return f"Eggs lost in each step: {each}."


def shares_alt(answer: CausesAnswer) -> str:
    """The picture of the parts as a sentence."""
    each = "; ".join(f"{GROUPS[line.group].lower()} {line_words(line)}" for line in answer.groups)
    return f"{WHOLE}: {chicks(answer.shortfall)}. It is made up of {each}."


def sure(line: LedgerLine) -> str:
    """97 %: how likely it is that chicks were lost by it, not won."""
    return f"{percent(line.probability_positive)} %"


def strip(answer: CausesAnswer) -> tuple[tuple[str, str, str], ...]:
    """Eggs, chicks, chicks wanted and how many are short, with what stands beneath each."""
    scope = answer.counted
    came = f"{percent(scope.hatched / scope.eggs)} % of set less cracked" if scope.eggs else NOT_KNOWN
    return (
        ("Eggs followed", number(scope.eggs), f"{counted(scope.trays, 'tray')}, {batches(scope.batches)}"),
        ("Chicks", number(scope.hatched), came),
        (
            "Wanted",
            number(answer.target_hatched),
            f"{percent(answer.mark.rate)} %, {WHOSE[answer.mark.whose]}",
        ),
        (
            WHOLE,
            number(answer.shortfall),
            "chicks" if answer.shortfall >= 0 else "chicks, so more than wanted",
        ),
    )


WHOSE: dict[str, str] = {
    "given": "as you asked",
    "own": "your own aim",
    "rule": "a rule of thumb",
}


def batches(number_of: int) -> str:
    """3 batches."""
    return counted(number_of, "batch", "batches")


def mark_line(mark: Mark) -> str:
    """What the chicks are measured against, with its source."""
    source = mark.source.rstrip(".")
    share = f"{percent(mark.rate)} %"
    return f"The mark: {source}." if share in source else f"The mark: {share} of set less cracked, {source}."


def left_out_line(scope: Scope) -> str:
    """Trays that cannot enter; "" where all do."""
    if not scope.left_out:
        return ""
    return (
        f"{counted(scope.left_out, 'tray')} with {counted(scope.left_out_eggs, 'egg')} could not be "
        "followed: no hatch is written down, or not what became of the rest."
    )


def bird_heading(species: str) -> str:
    """The species as a choice."""
    name = species_words(species)
    return name[:1].upper() + name[1:]


def finding_title(finding: CauseFinding) -> str:
    """Strong evidence. Flock, dead late, March 2026 to June 2026."""
    item = finding.item
    when = months_words(item.first, item.last)
    parts = [GROUPS[item.group], STEP_LOST.get(item.step, item.step).lower(), *([when] if when else [])]
    return f"{strength_words(finding)}. {', '.join(parts)}"


def strength_words(finding: CauseFinding) -> str:
    """Strong evidence."""
    return STRENGTHS[finding.strength].capitalize()


def more_findings(number_of: int) -> str:
    """3 more."""
    return f"{number_of} more"


def months_words(first: str, last: str) -> str:
    """March 2026 to June 2026; "" where it is always so."""
    names = [month_name(Month.parse(text)) for text in (first, last) if text]
    return " to ".join(dict.fromkeys(names))


def factor_words(factor: str, level: str) -> str:
    """pen Hazel; storage days."""
    name = factor.replace("_", " ")
    return f"{name} {level}" if level else name


def item_name(item: ItemLine) -> str:
    """pen Hazel, March 2026 to June 2026."""
    when = months_words(item.first, item.last)
    name = factor_words(item.factor, item.level)
    return f"{name[:1].upper()}{name[1:]}{f', {when}' if when else ''}"


def no_answer(one: NoAnswer) -> str:
    """Chukar: too few eggs."""
    return f"{bird_heading(one.species)}: {one.why}"


def apart_eggs(one: NotApart) -> str:
    """How many chicks are at stake; "" where it is not counted by itself."""
    if one.eggs is None or one.low is None or one.high is None:
        return ""
    return f"{chicks(one.eggs)} ({between(one.low, one.high)})"


def apart_name(one: NotApart) -> str:
    """Pen and incubator: 40 chicks (-3 to 90)."""
    name = listed([factor.replace("_", " ") for factor in one.factors])
    eggs = apart_eggs(one)
    return f"{name[:1].upper()}{name[1:]}{f': {eggs}' if eggs else ''}"


def window_name(stretch: Sequence[StripeBatch], *, latest: bool) -> str:
    """latest 40: Mar 2026 to Oct 2026."""
    ends = [edge(one.hatch_on for one in stretch) for edge in (min, max)]
    months = dict.fromkeys(f"{MONTHS[when.month - 1]} {when.year}" for when in ends)
    which = f"latest {len(stretch)}" if latest else f"{len(stretch)} before"
    return f"{which}: {' to '.join(months)}"


def map_heading(stripes: StripeMap) -> str:
    """What the stripes are of."""
    return f"Stripes of {STEP_PASSED[stripes.step]}"


def difference_words(difference: float) -> str:
    """4.2 fewer than expected."""
    if portion(difference) == "0":
        return "as many as expected"
    return f"{portion(abs(difference))} {'fewer' if difference < 0 else 'more'} than expected"


def came_words(came: float, eggs: float, expected: float) -> str:
    """14 of 30 eggs came through, 18.2 expected: 4.2 fewer than expected."""
    return (
        f"{portion(came)} of {portion(eggs)} eggs came through, {portion(expected)} expected: "
        f"{difference_words(came - expected)}"
    )


def cell_label(cell: StripeCell, batch: StripeBatch) -> str:
    """A mark in words."""
    few = "; too few eggs to judge by themselves" if cell.few else ""
    return (
        f"{cell.pen}, batch {cell.batch} in {machine_of(batch)}, hatched {day(batch.hatch_on)}: "
        f"{came_words(cell.came, cell.eggs, cell.expected)}{few}"
    )


def machine_of(batch: StripeBatch) -> str:
    """Flint; Flint, hatched in Slate."""
    return batch.machine if batch.hatcher == batch.machine else f"{batch.machine}, moved to {batch.hatcher}"


def total_words(total: Total) -> str:
    """310 of 480 eggs came through, ..."""
    return came_words(total.came, total.eggs, total.expected)


def machine_label(machine: str, total: Total | None) -> str:
    """A machine's heading in words."""
    return f"Machine {machine}: {total_words(total)}" if total else f"Machine {machine}"


def batch_label(batch: StripeBatch, total: Total | None) -> str:
    """A batch's heading in words."""
    name = f"Batch {batch.batch} in {machine_of(batch)}, hatched {day(batch.hatch_on)}"
    return f"{name}, all pens: {total_words(total)}, {below(total, 'pen')}" if total else name


def pen_label(total: Total) -> str:
    """A pen's name in words."""
    return f"{total.name}, all batches shown: {total_words(total)}, {below(total, 'batch', 'batches')}"


def below(total: Total, one: str, more: str = "") -> str:
    """fewer in 6 of 8 batches."""
    return f"fewer in {total.below} of {counted(total.cells, one, more)}"


def map_alt(
    stripes: StripeMap,
    pens: Mapping[str, Total],
    machines: Mapping[str, Total],
    batches_shown: Mapping[str, Total],
    strong: float,
) -> str:
    """The map as some sentences: its size, and the stripes that are strong along and down."""
    said = (
        f"{map_heading(stripes)}: {counted(len(pens), 'pen')} by {batches(len(batches_shown))} of "
        f"{counted(len(machines), 'machine')}."
    )
    rows = (
        ("Along pens", pens, "batch", "batches"),
        ("Down machines", machines, "mark", "marks"),
        ("Down batches", batches_shown, "pen", "pens"),
    )
    return " ".join([said, *(_strongest(*row, strong) for row in rows)])


def _strongest(name: str, totals: Mapping[str, Total], one: str, more: str, strong: float) -> str:
    fewest = sorted(
        (total for total in totals.values() if total.residual <= -strong), key=lambda total: total.residual
    )
    most = [total.name for total in totals.values() if total.residual >= strong]
    if not fewest and not most:
        return f"{name} no strong stripe."
    parts = [
        f"{total.name} {number(abs(total.difference))} fewer than expected, {below(total, one, more)}"
        for total in fewest[:3]
    ]
    parts += [f"{len(fewest) - 3} others likewise"] if len(fewest) > 3 else []
    parts += [f"more than expected {_some(most)}"] if most else []
    return f"{name}: {'; '.join(parts)}."


def _some(names: Sequence[str], most: int = 3) -> str:
    more = len(names) - most
    return listed([*names[:most], f"{more} others"]) if more > 0 else listed(list(names))


def signed(difference: float) -> str:
    """+4.2 or −4.2."""
    text = portion(difference)
    return f"+{text}" if difference > 0 and text != "0" else text


def trays_title(behind: Behind) -> str:
    """Trays of Hazel in batch Q012, March 2026: most dead late first."""
    of = f" of {listed(behind.pens)}" if behind.pens else ""
    places = [f"batch {label}" for label in behind.batches]
    places += [f"machine {label}" for label in behind.machines]
    where = f" in {listed(places)}" if places else ""
    when = months_words(behind.first, behind.last)
    order = (
        ": longest stored first"
        if behind.stored
        else ""
        if behind.step == ALL
        else f": most {STEP_LOST[behind.step].lower()} first"
    )
    return f"{'Trays' if of or where or when else 'All trays'}{of}{where}{f', {when}' if when else ''}{order}"


def tray_key(row: TrayRow) -> str:
    """Q012, tray 3."""
    return f"{row.batch}, tray {row.tray}"


def trays_found(found: TraysFound) -> str:
    """3 trays with 96 eggs; the first 100 are listed."""
    trays, eggs, chicks = (
        counted(found.trays, "tray"),
        counted(found.eggs, "egg"),
        counted(found.chicks, "chick"),
    )
    said = f"{trays} with {eggs} set and {chicks}."
    shown = len(found.rows)
    more = f" The first {shown} are listed; the table to take away has all." if shown < found.trays else ""
    return f"{said}{more}"


def tray_rest(row: TrayRow) -> str:
    """3 infertile, 2 dead early; and why the tray is in no ledger."""
    said = [f"{eggs} {OUTCOMES.get(word, word.replace('_', ' '))}" for word, eggs in row.outcomes.items()]
    out = f"left out: {row.left_out}" if row.left_out else ""
    return "; ".join(part for part in (", ".join(said), out) if part) or NOT_KNOWN


def stored(days: float | None) -> str:
    """4 days, or that nobody wrote it down: a dash would be left out of the cards of a phone."""
    return NOT_RECORDED if days is None else f"{days:g} day{'' if days == 1 else 's'}"


def chicks_of(row: TrayRow) -> str:
    """18, or that nobody wrote it down."""
    return NOT_RECORDED if row.hatched is None else count(row.hatched)


def moved(row: TrayRow) -> str:
    """Flint; Flint to Slate."""
    return row.machine if row.hatcher == row.machine else f"{row.machine} to {row.hatcher}"


def set_day(when: date) -> str:
    """3 Mar 2026."""
    return day(when)
