"""The words of the page of plans, in one place."""

from __future__ import annotations

from datetime import date

from analytics.studies.kinship_records import MatingsAnswer, PenKinship
from analytics.studies.plan_records import DatesAnswer, DayRange, Narrowing, SizeAnswer, SizeRow, SplitAnswer
from analytics.studies.wording import counted, day_range, listed, percent, short_day, species_words, whole
from dashboard.words import MONTHS, NOT_KNOWN

PAGE = "Plan"
ASK = "What do you want to plan?"
WHERE, MANY, DAYS, MATES = "Which eggs where", "How many eggs", "Which days", "Whom with whom"
QUESTIONS = (WHERE, MANY, DAYS, MATES)
"""What can be asked, in the order in which it is offered; these words stand in the link."""
TITLES = {
    WHERE: "Whose eggs go into which machine next?",
    MANY: "How many eggs show a difference?",
    DAYS: "When to candle, move and expect them?",
    MATES: "Whom to mate with whom?",
}
CANNOT = {
    WHERE: "These records do not allow a plan of the next set yet",
    MANY: "These records cannot tell how many eggs it takes yet",
    DAYS: "These days cannot be told",
    MATES: "These records do not allow a mating plan yet",
}
ASKED_WRONG = "It cannot be planned like this"
WORKING = {
    WHERE: "Working out who goes where …",
    MANY: "Working out how many eggs it takes …",
    DAYS: "Looking up the days …",
    MATES: "Working out who is related to whom …",
}
EMPTY = "Nothing is written down yet that this could be planned from."
EMPTY_DAYS = f"“{DAYS}” needs no records: it rests on published days alone."
TO_RECORDS = "Bring records in"

BIRDS = "Birds"
MOST_BIRDS = "the most numerous"
SET_ON = "Day of setting"
EGGS_AND_ROOM = "Eggs and room"
EGGS_AND_ROOM_LEDE = (
    "Left blank, a pen brings as many eggs as at its last set, and a machine has room for what it holds less "
    "what is in it. 0 leaves a pen or a machine out."
)
EGGS_OF, ROOM_IN = "Eggs of {}", "Room in {}"
EACH = "Fewest eggs moved of a pen"
EACH_BLANK = "12, else 9, else 6"
SETS = "Sets like this"
SEED = "Seed of the lots"
SEED_AGAIN = "Draw other lots"
AS_RECORDED = "as recorded"
USUAL_NUMBER = "as usual"
TRAYS_HEADING = "The trays, in the order in which they go in"
TRAY, PEN, EGGS, MOVED, WHICH = "Tray", "Pen", "Eggs", "Moved from", "Which eggs"
HATCHER, STORED, SAME = "Hatcher", "Days stored", "the same"
WITH_STORAGE = "Plan storage too, where it goes with something else"
ALL_OF_THEM = "all"
ANOTHER = "another machine"
MIND_HEADING = "What to mind"
TAKE_HEADING = "To take away"
TAKE_LEDE = (
    "The card is for the machine's door; print it from the browser. The two sheets are the next set as "
    "records: bring both in together when the eggs are set, and write the hatch into them later."
)
CARD = "Tray card to print"
BATCHES, TRAYS = "Sheet batches as CSV", "Sheet trays as CSV"
INSTEAD_ONE = (
    f"Set all pens side by side in it: they can be compared that way. “{MANY}” says how many eggs that takes."
)
INSTEAD_MET = f"Set them as usual. How large a difference these eggs can show is under “{MANY}”."

MEASURE = "Rate"
POINTS = "Points poorer"
USUAL = "Usual rate, %"
POWER = "To be seen in"
TRAY_EGGS = "Eggs of a tray"
TRAYS_EACH = "Trays of each pen in a batch"
SIDE_BY_SIDE = "Both pens in the same batches"
BATCHES_ASKED = "Batches I could set"
HOW_SET = "How they would be set"
NOT_ASKED = "not asked"
TABLE_HEADING = "Other differences"
COL_POINTS, COL_BATCHES, COL_TRAYS, COL_SET = (
    "Points poorer",
    "Batches",
    "Trays of each",
    "Eggs to set of each",
)
COL_ALONE = "If each egg stood alone"
KEY_TOLD = "eggs of each pen, as alike as in these records"
KEY_ALONE = "if each egg stood alone"
AXIS_POINTS = "points poorer"
SIZE_CSV = "Take the numbers"
AT_HAND_HEADING = "What two pens' eggs could have shown"
AT_HAND_LEDE = "Choose two pens: what their finished batches so far could have shown."
PEN_ONE, PEN_OTHER = "One pen", "Another pen"
SAME_PEN = "These are the same pen: choose another one."
RESTS_HEADING = "What this rests on"

KINDS = "Birds"
MACHINE = "Machine"
NOT_SAID = "not said"
STORAGE = "Days stored"
NO_KIND = "Choose at least one kind of bird."
MIXED_HEADING = "What does not go together"
DAYS_HEADING = "The days"
COL_BIRD, COL_CANDLE, COL_MOVE, COL_HATCH = "Bird", "Candle", "To the hatcher", "Hatch"
ICS = "Calendar file (.ics)"
ICS_FILE = "penwise-batch.ics"
SAYS_HEADING = "Who says so"
SET = "Set"
STEPS = (COL_CANDLE, COL_MOVE, COL_HATCH)

MOST_FEMALES = "Females to a male, at most"
EVENLY = "shared out evenly"
AS_OF = "Pens as on"
SOME = "Only some birds"
MALES, FEMALES = "Males", "Females"
ALL_IN_PENS = "all that stand in pens"
MATES_HEADING = "Who with whom"
PENS_HEADING = "The pens as they stand on {}"
COL_MALE, COL_FEMALES, COL_YOUNG = "Male", "Females", "Inbreeding of the young"
COL_MALES = "Males"
MATES_CSV = "Take the matings"

_PHRASES = {
    ", say it: --room NAME=EGGS.": f", write it under “{EGGS_AND_ROOM}”.",
    "Say how many: --eggs PEN=24": f"Say how many under “{EGGS_AND_ROOM}”",
    "Give it, as in --rate 0.75": f"Write it into “{USUAL}”",
}
"""What a command line says -> what a page says."""


def on_page(text: str) -> str:
    """A study's sentence without the options of a command."""
    for option, words in _PHRASES.items():
        text = text.replace(option, words)
    return text


def bird_choice(key: str) -> str:
    """A species in a list of choices."""
    name = species_words(key) if key else MOST_BIRDS
    return name[:1].upper() + name[1:]


def power_choice(power: float) -> str:
    """`80 % of cases`."""
    return f"{percent(power)} % of cases"


def instead(answer: SplitAnswer) -> str:
    """What to do where pens and machines have met; "" where they have not."""
    if len(answer.camps) > 1 or len(answer.hatcher_camps) > 1 or answer.storage.pens:
        return ""
    return INSTEAD_ONE if len(answer.camps[0].machines) == 1 else INSTEAD_MET


def split_figures(answer: SplitAnswer) -> list[tuple[str, str, str]]:
    """The plan in figures: eggs moved, and what that tells."""
    eggs = sum(lot.eggs for lot in answer.plan.lots)
    found = [("Eggs moved", whole(answer.plan.moved), f"of {whole(eggs)} to be set")]
    if answer.narrowing:
        found.append(("So far", "open", "theirs or the pens': nothing tells"))
    found += [_narrowing(one) for one in answer.narrowing]
    return found


def seed_line(answer: SplitAnswer) -> str:
    """By which lots the eggs were dealt out."""
    return f"Seed {answer.plan.seed} deals the same lots again."


def _narrowing(one: Narrowing) -> tuple[str, str, str]:
    """How well one difference is known then."""
    what = {
        "setter": f"between {one.between[0]} and {one.between[1]}",
        "hatcher": f"between hatching in {one.between[0]} and {one.between[1]}",
        "storage": f"between {one.between[0]} and {one.between[1]} days of storage",
    }[one.kind]
    return (
        f"After {counted(one.sets, 'set')}",
        f"± {100 * one.within:.0f}",
        f"chicks of 100 eggs {what}",
    )


def stored(days: float) -> str:
    """`stored 7 days`."""
    return f"stored {days:g} days"


def days_stored(days: float | None) -> str:
    """Days of a lot that is stored on purpose."""
    return NOT_KNOWN if days is None else f"{days:g}"


def split_notes(answer: SplitAnswer) -> list[str]:
    """What stands behind the plan; the seed stands beneath the figures."""
    return [on_page(note) for note in answer.notes if not note.startswith("Seed ")]


def size_figures(answer: SizeAnswer) -> list[tuple[str, str, str]]:
    """The answer in figures."""
    needed, alike = answer.needed, answer.ground.clustering
    found = []
    if needed.eggs_set is not None and needed.needed.batches is not None:
        layout = f"in {counted(needed.needed.batches, 'batch', 'batches')}"
        found.append(("Eggs of each pen", whole(needed.eggs_set), layout))
    if needed.independent_set is not None:
        found.append(("If each egg stood alone", whole(needed.independent_set), "eggs of each pen"))
    assumed = "mostly assumed, the store is small" if alike.assumed else "in these records"
    return [
        *found,
        ("Likeness in a tray", f"{alike.rho_tray:.2f}", assumed),
        ("Likeness in a batch", f"{alike.rho_batch:.2f}", assumed),
    ]


def size_cells(row: SizeRow) -> tuple[str, ...]:
    """One difference and what it takes."""
    needed = row.needed
    points = f"{round(100 * row.difference, 1):g}"
    alone = NOT_KNOWN if row.independent_set is None else whole(row.independent_set)
    if needed.batches is None or needed.trays is None or row.eggs_set is None:
        return points, "none would do", NOT_KNOWN, NOT_KNOWN, alone
    return points, whole(needed.batches), whole(needed.trays), whole(row.eggs_set), alone


def days(found: DayRange) -> str:
    """A stretch of days."""
    return day_range(found.first, found.last) if found.first and found.last else "not published"


def short(day: date) -> str:
    """`4 Nov`."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def days_alt(answer: DatesAnswer) -> str:
    """The picture of days in a sentence."""
    told = [
        f"{one.name}: "
        + ", ".join(
            f"{step.lower()} {days(stretch)}"
            for step, stretch in zip(STEPS, (one.candle, one.transfer, one.hatch), strict=True)
        )
        for one in answer.species
    ]
    return f"Set on {short_day(answer.set_on)}. {'; '.join(told)}."


def eggs_alt(answer: SizeAnswer) -> str:
    """The picture of eggs in a sentence."""
    told = [
        f"{round(100 * row.difference, 1):g} points take {whole(row.eggs_set)}"
        for row in answer.rows
        if row.eggs_set is not None
    ]
    return f"Eggs to set of each pen: {'; '.join(told) or 'no number would do'}."


def dates_sources(answer: DatesAnswer) -> list[str]:
    """Who says which days."""
    return [
        f"{one.name}, {what.lower()}: {stretch.why or stretch.source}"
        for one in answer.species
        for what, stretch in zip(STEPS, (one.candle, one.transfer, one.hatch), strict=True)
    ]


def mating_rows(answer: MatingsAnswer) -> list[tuple[str, str, str]]:
    """Each male with his females and the mean inbreeding of their young."""
    rows = []
    for male in sorted({one.male for one in answer.plan.matings}):
        own = [one for one in answer.plan.matings if one.male == male]
        mean = sum(one.inbreeding for one in own) / len(own)
        rows.append((male, listed([one.female for one in own]), f"{percent(mean)} %"))
    return rows


def pen_row(pen: PenKinship) -> tuple[str, ...]:
    """A pen as it stands."""
    if pen.of_young is None:
        young = "not known"
    else:
        young = f"{percent(pen.of_young)} %"
        young += f" (of {pen.known} of {pen.pairs} pairs)" if pen.known < pen.pairs else ""
    return pen.pen, str(pen.males), str(pen.females), young


def pens_heading(day: date) -> str:
    """The heading of the pens as they stand."""
    return PENS_HEADING.format(short_day(day))
