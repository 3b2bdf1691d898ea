"""What is said at the bench, and wherever rows are typed or corrected; see `words`."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime

from analytics.errors import SheetProblem
from analytics.reference.species import species_table
from analytics.sheets.bench import BenchBatch, TrayTally
from analytics.sheets.contract import Column, Kind
from analytics.sheets.report import Correction
from analytics.studies.batch_records import BatchAnswer, BatchSign
from analytics.studies.wording import counted, listed, species_title
from dashboard.words import day
from dashboard.words_batch import GROUPS

PAGE = "At the bench"
SOURCE = "At the bench"
"""How the ledger names what was entered here."""
SOURCE_TYPED = "Typed in"
"""The same for single rows, on whatever page they were typed."""
LEDE = "Choose the batch on the bench. Every tap is kept at once, as a draft until you close the tray."
LEDE_NONE = "No batch waits for its hatch. Begin a new one, or choose one that is done to look again."
CHOOSE_OTHER = "Another batch"
CHOOSE = "choose"
NEW_BATCH = "Begin a new batch"
OTHER_ENTRY = "Write down something else"
OTHER_LEDE = "A reading, eggs laid, an event of a machine: one row of the sheet you choose."
BACK_BATCHES = "All batches"
BACK_TRAYS = "All trays of this batch"
NO_TRAYS = "No tray of this batch is written down yet. Add one below."
ADD_TRAY = "Add a tray"
GONE = "The link asks for a batch or tray that is not there. Choose another."
MOST_BATCHES = 6
"""Batches that are offered as buttons; the others in a list."""

TASK = "What to write down"
COUNT, CANDLE, WEIGH, OUT, OPEN = "Count", "Candle", "Weigh", "Chicks out", "One egg"
TASKS = (COUNT, CANDLE, WEIGH, OUT, OPEN)
TASK_LEDES = {
    CANDLE: "What the light showed. Tap the outcome of eggs taken out under Count too.",
    WEIGH: "The empty tray, and the tray with its eggs at setting and at transfer, in g.",
    OUT: "How many chicks are out by now. The hours of the hatch come from this.",
    OPEN: "One unhatched egg with what it showed. The tray's counts come from Count.",
}
WEIGHT_COLUMNS = (
    "tare_g", "weighed_set", "weight_set_g", "weighed_transfer", "weight_transfer_g", "weighed_on",
)  # fmt: skip

OUTCOMES = {
    "hatched": "Chick kept",
    "culled": "Chick not kept",
    "infertile": "Infertile",
    "clear": "Clear",
    "early_dead": "Dead early",
    "mid_dead": "Dead mid-way",
    "late_dead": "Dead late",
    "internal_pip": "Pipped inside",
    "external_pip": "Pipped the shell",
    "rotten": "Rotten",
    "cracked": "Cracked",
    "not_opened": "Not opened",
}
LOOKS = {
    "hatched": "A live chick that you keep.",
    "culled": "A live chick that you do not keep.",
    "infertile": "Opened and judged: the disc on the yolk is a small solid white spot, no ring.",
    "clear": "No development to be seen, and not told apart.",
    "early_dead": "A ring of blood, vessels or a dark eye; no down.",
    "mid_dead": "A small bird with a beak; down only beginning.",
    "late_dead": "A bird with down that fills the egg; the air cell is whole.",
    "internal_pip": "Its beak is in the air cell, the shell is whole.",
    "external_pip": "It broke the shell and is not out.",
    "rotten": "It smells, leaks or has burst; the stage is not known. Open it outdoors, and wash your hands.",
    "cracked": "The shell was cracked before or at setting.",
    "not_opened": "It did not hatch and you did not open it.",
}
MORE_CHICKS = (5, 10)
REST_HATCHED, REST_UNOPENED = "The rest hatched", "The rest not opened"
OFFLINE = "No connection. Nothing is counted until it is back; what was counted is kept."
LATE = "No answer yet. The last tap is not counted so far; wait for it."
UNDO_NONE = "Nothing to undo"
CLOSED_HEADING = "This tray is closed"
PULLED = "Taken out of the machine on"
PULLED_NOTE = "This is the last tray: closing it closes the batch."
CLOSE_REFUSED = "The tray is not closed"

KEY_HEADING = "What you see in the egg"
KEY_LEDE = "Our own drawings, to tell the stages apart; an egg of yours may look somewhat different."
KEY_DAYS = "Day by day, under the light"
KEY_STAGES = (0.14, 0.24, 0.33, 0.45, 0.57, 0.67, 0.81, 0.95)
"""Shares of the days to hatch at which an egg is drawn."""

POSITIONS_HEADING = "Malpositions 1 to 6"
POSITIONS_LEDE = (
    "Usual is: head in the large end, under the right wing, beak to the air cell. The numbers are the "
    "trade's, from memory; where your sheet counts otherwise, keep to one of them."
)
POSITIONS = {
    1: "Head between the legs",
    2: "Head in the small end",
    3: "Head under the left wing",
    4: "Beak away from the air cell",
    5: "Feet over the head",
    6: "Beak over the right wing",
}

DONE_LAST = "Whose loss it was"
DONE_NEXT = "Next tray"
TO_HATCH = "This hatch in full"
TO_LOSSES = "Whose loss it is over all hatches"
TO_MONTH = "This month"
ALL_HATCHED = "Nothing was lost in this hatch."

FIRST_TITLE = "Write down your first hatch"
FIRST_LEDE = "Three things, once: the machine, the pen the eggs come from, and the batch with its trays."
FIRST_WAY = "Or type it in here, on a phone too: machine, pen and batch, and then every egg by a tap."
FIRST_TYPE = "Type it in"
FIRST_MACHINE = "1. The machine"
FIRST_PEN = "2. The pen"
FIRST_BATCH = "3. The batch and its trays"
FIRST_ANOTHER = "Add another"
HAVE = "Written down:"
BATCH_TRAYS = "Number of trays"
BATCH_NAME = "Name of the batch"
BATCH_MACHINE = "Machine"
BATCH_SET = "Set on"
BATCH_KEEP = "Keep this batch"
BATCH_LEDE = "A tray holds the eggs of one pen, stored alike."
STORED = "Days stored"
NEEDS = "A batch needs a machine and a pen first."
MOST_TRAYS = 20

TYPE_HEADING = "Type a row"
TYPE_LEDE = "One row of one sheet, checked like a file. What is marked * has to be there."
TYPE_SHEET = "Which sheet"
KEEP = "Keep"
KEPT = "Kept"
HOUR = "Hour"
YES, NO = "yes", "no"
SPECIES = "Species"
LABELS = {
    "species": SPECIES,
    "pen": "Pen",
    "incubator": "Machine",
    "batch": "Batch",
    "hatcher": "Machine from transfer on; blank = the same",
    "malposition": "Malposition, 1 to 6",
}
"""Columns whose note is too short, or too long, for a field."""
NOT_KEPT = "Not kept"
EXISTS = "There is a row of that name already. Correct it instead: under One row on the page Records."
CORRECT_HEADING = "Correct a value"
CORRECT_COLUMN = "Which value"
CORRECT_NEW = "What is right"
CORRECT_WHY = "Why is it changed?"
CORRECT_LEDE = "The value before, who changed it and why stay in the history below."
CORRECT_KEEP = "Keep the correction"
NO_WHY = "Write down why first. It is kept with the value that stood there."
SAME = "That is what stands there already."
FILL_WHY = "Why is a recorded value changed? Only if one is."
BEGUN_HEADING = "Trays begun, not closed"
TO_BENCH = "Go on at the bench"


def batch_button(batch: BenchBatch) -> str:
    """B07, set 4 Mar 2026: 2 trays, 48 eggs."""
    trays = f"{counted(len(batch.trays), 'tray')}, {counted(batch.eggs_set, 'egg')}"
    begun = [tray.tray for tray in batch.trays if tray.drafted]
    told = f", begun: {listed(begun)}" if begun else ""
    return f"**{plain(batch.batch)}**, set {day(batch.set_on)}: {trays}{plain(told)}"


def batch_name(batch: BenchBatch) -> str:
    """The same in a list."""
    return f"{batch.batch}, set {day(batch.set_on)}"


def tray_button(tray: TrayTally) -> str:
    """T1, Rowan: 31 of 48 eggs."""
    name = f"**{plain(tray.tray)}**, {plain(tray.pen)}"
    if tray.is_closed:
        return f"{name}: closed, {tray.counts['hatched']} of {tray.eggs_set} hatched"
    if tray.told:
        return f"{name}: {tray.told} of {counted(tray.eggs_set, 'egg')}"
    return f"{name}: {counted(tray.eggs_set, 'egg')}"


def plain(text: str) -> str:
    """A label that must not be read as mark-up."""
    return "".join(f"\\{letter}" if letter in "\\`*_{}[]()#+-.!|~<>$:" else letter for letter in text)


def batch_title(batch: str) -> str:
    """Batch B07."""
    return f"Batch {batch}"


def tray_title(tray: TrayTally) -> str:
    """B07, tray T1."""
    return f"{tray.batch}, tray {tray.tray}"


def tray_lede(tray: TrayTally) -> str:
    """Pen, species, and what is there already."""
    of = f"Pen {tray.pen}, {species_title(tray.species)}, {counted(tray.eggs_set, 'egg')} set."
    had = sum(tray.recorded.values())
    if had and tray.drafted:
        return f"{of} {counted(had, 'egg')} had an outcome before."
    return f"{of} {counted(had, 'egg')} have an outcome already." if had else of


def total(tray: TrayTally) -> str:
    """31 of 48 eggs."""
    return f"{tray.told} of {counted(tray.eggs_set, 'egg')}"


def undo(tray: TrayTally) -> str:
    """Undo: Dead early, +5."""
    if tray.undo is None:
        return UNDO_NONE
    outcome, eggs = tray.undo
    return f"Undo: {OUTCOMES[outcome]}" + (f" +{eggs}" if eggs > 1 else "")


def others_tap(tray: TrayTally) -> str:
    """That more than one device taps."""
    return f"{tray.devices} devices tap on this tray; their taps are added, and each undoes its own."


def close_label(tray: TrayTally) -> str:
    """Close this tray; with what stays open."""
    if not tray.left:
        return f"Close tray {tray.tray}: all {tray.eggs_set} eggs have an outcome"
    return f"Close tray {tray.tray}, {counted(tray.left, 'egg')} not written down"


def closed(tray: TrayTally) -> str:
    """What the sheet has now."""
    chicks = tray.recorded.get("hatched", 0) + tray.recorded.get("culled", 0)
    left = f" {counted(tray.left, 'egg')} not written down." if tray.left else ""
    hatched = f"{chicks} of {counted(tray.eggs_set, 'egg')} hatched."
    return f"Tray {tray.tray} of {tray.batch} is closed: {hatched}{left}"


def counts_line(tray: TrayTally) -> str:
    """Every outcome that an egg has, with its number."""
    told = [f"{OUTCOMES[name].lower()} {eggs}" for name, eggs in tray.counts.items() if eggs]
    return f"{listed(told)}.".capitalize() if told else "No egg has an outcome."


def whose_lines(answer: BatchAnswer) -> tuple[str, ...]:
    """What the lost eggs may come from, the signs of most eggs first; one hatch names no culprit."""
    lines = tuple(_whose(sign) for sign in answer.signs[:3] if sign.candidates)
    return lines or (() if any(one.eggs for one in answer.species) else (ALL_HATCHED,))


def _whose(sign: BatchSign) -> str:
    first = sign.candidates[0]
    reasons = f" For it: {'; '.join(first.for_)}." if first.for_ else ""
    groups = dict.fromkeys(GROUPS.get(one.group, one.group) for one in sign.candidates)
    return (
        f"{sign.sentence} It may be {listed(list(groups)).replace(' and ', ' or ')}. "
        f"First to look at: {first.cause} ({GROUPS.get(first.group, first.group)}).{reasons}"
    )


def begun_line(trays: Sequence[TrayTally]) -> str:
    """2 trays are begun and not closed: B07 T1, B07 T2."""
    named = listed([f"{one.batch} {one.tray} ({total(one)})" for one in trays])
    verb = "is" if len(trays) == 1 else "are"
    return (
        f"{counted(len(trays), 'tray')} {verb} begun at the bench and not closed: {named}. In no rate so far."
    )


def key_classes(species: str) -> str:
    """Which days early, mid-way and late are."""
    early, mid, last, own = stage_days(species)
    name = species_title(species)
    if own:
        return f"{name}: early to day {early}, mid-way to day {mid}, late after that; hatch about day {last}."
    return (
        f"{name}: no division by day is published that we know of. Scaled from the chicken's by its days: "
        f"early to about day {early}, mid-way to about day {mid}, late after that; hatch about day {last}."
    )


def stage_days(species: str) -> tuple[int, int, int, bool]:
    """Last early day, last day mid-way, day of hatch, and whether the division is the species' own."""
    table = species_table()
    known, chicken = table.get(species, table["chicken"]), table["chicken"]
    low, high = known.usual_days
    last = round((low + high) / 2)
    if known.early_to_day and known.mid_to_day:
        return known.early_to_day, known.mid_to_day, last, True
    scale = last / chicken.usual_days[1]
    return round((chicken.early_to_day or 0) * scale), round((chicken.mid_to_day or 0) * scale), last, False


def key_day(species: str, share: float) -> tuple[str, str]:
    """Day 5, early: the name beneath a drawing, and the drawing in words."""
    early, mid, last, _ = stage_days(species)
    when = max(1, round(share * last))
    stage = "early" if when <= early else "mid-way" if when <= mid else "late"
    return f"Day {when}, {stage}", f"Egg on day {when} under the light: {_seen(share)}"


def _seen(share: float) -> str:
    steps = (
        (0.2, "fine vessels and a small dark spot"), (0.4, "vessels and a dark eye"),
        (0.6, "a small bird with a beak and vessels"), (0.85, "a bird with down in half of the egg"),
    )  # fmt: skip
    return next((what for end, what in steps if share < end), "a bird with down that fills the egg")


def named(column: Column) -> str:
    """A column as a field is called: its note, and its heading."""
    is_own = column.kind is Kind.LABEL and not column.refers_to and column.name != "species"
    note = "" if is_own else LABELS.get(column.name, "")
    note = note or column.note[:1].upper() + column.note[1:]
    return f"{note} *" if column.required else note


def problem(one: SheetProblem) -> str:
    """What is wrong in a field."""
    return f"{one.given}. {one.rule}. {one.repair}.".replace("..", ".")


def problems(total_found: int) -> str:
    """Nothing was kept: 2 things to mend."""
    return f"Nothing was kept: {counted(total_found, 'thing')} to mend, said at the field."


def kept(sheet: str, cells: Mapping[str, str], key: Sequence[str]) -> str:
    """Which row is kept."""
    return f"{', '.join(cells[name] for name in key if cells.get(name))} in {sheet}."


def would_change(changes: Sequence[Correction]) -> tuple[str, ...]:
    """What a typed row would change."""
    told = [f"{one.column}: {one.old or 'not recorded'} → {one.new or 'not recorded'}" for one in changes[:5]]
    return (EXISTS, *told)


def tray_number(number: int) -> str:
    """Tray 2."""
    return f"Tray {number}"


def batch_kept(batch: str, trays: int) -> str:
    """Batch B1 with 2 trays."""
    return f"Batch {batch} with {counted(trays, 'tray')}."


def next_name(names: Sequence[str], letter: str) -> str:
    """A name that nobody has yet: the last one counted on, or the letter with a number.

    Args:
        names: the names there are, the last one given last.
        letter: what a name begins with where the last one has no number.
    """
    taken = {name.casefold() for name in names}
    counted_on = re.fullmatch(r"(.*?)(\d{1,9})", names[-1]) if names else None
    start, number = (counted_on[1], int(counted_on[2])) if counted_on else (letter, 0)
    width = len(counted_on[2]) if counted_on else 1
    while True:
        number += 1
        name = f"{start}{number:0{width}}"
        if name.casefold() not in taken:
            return name


def now_text(when: datetime) -> str:
    """A moment as a sheet has it."""
    return when.strftime("%Y-%m-%dT%H:%M")
