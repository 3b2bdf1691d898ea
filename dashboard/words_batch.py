"""What the page of one batch says; goes with words.py into another language."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.measures.hatch_timing import HatchWindow
from analytics.reports.batch_text import SUPPORT, own_words, printed_words
from analytics.store.batch import BatchName, OtherBatches
from analytics.studies.batch_records import (
    Advice,
    BatchCandidate,
    BatchDue,
    BatchFate,
    BatchHours,
    BatchPen,
    BatchSign,
    BatchSpecies,
    EggShare,
    PublishedBeside,
)
from analytics.studies.batch_signs import share_words
from analytics.studies.causes_records import TrayRow
from analytics.studies.wording import counted, day_range, listed, percent, percent_range, species_words
from dashboard import words_losses
from dashboard.words import NOT_KNOWN, day

PAGE = "One hatch"
CHOOSE = "Which batch"
NONE_TITLE = "No batch is written down yet"
NONE_LEDE = "A batch is eggs set together in one machine. Write it into the sheets batches and trays."
NOT_IN_RECORDS = "Not in these records"
EGGS_KEY = (
    "Bar: eggs. Line: how many it may be in the long run for eggs like these. A long line means few eggs, "
    "or eggs that were not told apart."
)
WHEN_HEADING = "When it hatched"
WHEN_KEY = (
    "Wide bar: from the first chick to the last, by all published figures. Blue part: where the middle of "
    "the hatch may lie. Line and dot: this hatch, from its first chick over the middle to the last."
)
WILL_HEADING = "When it is expected to hatch"
WHEN_KEY_EXPECTED = (
    "Wide bar: from the first chick to the last, by all published figures. Blue part: where the middle of "
    "the hatch may lie."
)
PENS_NOTE = (
    "Beside each other as counted, nothing is compared. With few eggs of a pen the range is the part to read."
)
DUE_HEADING = "What is due"
LOOK_HEADING = "What to look at now"
LOOK_NONE = "Nothing that was seen here asks for a look, or what it asks for is written down already."
CAUSES_HEADING = "What was seen, and what it may come from"
CAUSES_LEDE = (
    "Each is a candidate, what your records speak for first, else in the order in which to look. One "
    "hatch cannot say which of them it was; the words beside them say how far anybody has shown that it "
    "can be."
)
NEXT_HEADING = "What to write down, or set otherwise, next time"
NEXT_LEDE = "So that the next hatches can tell what this one cannot. What tells most comes first."
NEXT_NONE = "Everything that penwise asks of a batch is written down here."
PUBLISHED_HEADING = "Beside what is published"
PUBLISHED_LEDE = (
    "Other birds, other machines, other years: a published figure is a measure to think by, not an aim. Only "
    "shares of the same base stand beside each other."
)
OTHERS_HEADING = "Beside your other batches"
OTHERS_LEDE = "As counted, nothing is tested. What many batches tell of causes stands on the page Losses."
TO_LOSSES = "Go to Losses"
DAYS_FROM = "Published days to hatch:"
MADE_HEADING = "How this was worked out"
TO_ONE_HATCH = "What one hatch tells already"
"""Leads from a page whose records are too few to the page of one hatch."""
TRAYS_BATCH = "This batch by itself"
TRAYS_HEADING = "The trays, as they are written down"
CARE_HEADING = "With care"
WARNING_HEADING = "Hard to read"
MOST_NEXT = 4
"""Proposals that are shown; further ones are folded."""
WRITE_INTO = "Write it into"
COL_FATE = "What became of them"
COL_EGGS = "Eggs"
COL_SHARE = "Of set"
COL_RANGE = "Range"
COL_OPEN = "May be as many more"
COL_PEN = "Pen"
COL_HATCHED = "Hatched, of set"
COL_WITHOUT = "Without development, of set"
COL_CAUSE = "It may come from"
COL_GROUP = "Whose it would be"
COL_FOR = "In your records for it"
COL_AGAINST = "Against it"
COL_CHECK = "Look at"
COL_SUPPORT = "How far it is shown"
COL_RATE = "Rate"
COL_PRINTED = "Published"
COL_OWN = "This batch"
COL_SOURCE = "Source"
COL_WHOSE = "Batches"
COL_MANY = "How many"
COL_TOGETHER = "Together, of set"
COL_LOWEST = "Lowest"
COL_HIGHEST = "Highest"
COL_WHAT = "What"
COL_BIRD = "Bird"
COL_DAYS = "Day of incubation"
COL_WHEN = "When"
COL_STATE = "State"
STATES = {"done": "done", "now": "now", "ahead": "ahead", "past": "past, not written down"}
GROUPS = {"flock": "the flock's", "handling": "the handling's", "incubator": "the incubator's"}
SHORT = {
    "hatched": "Chicks kept",
    "culled": "Chicks not kept",
    "infertile": "Infertile",
    "clear": "Clear",
    "early": "Dead early",
    "mid": "Dead mid-way",
    "late": "Dead late",
    "shell": "Pipped, not out",
    "unstaged": "Dead, no stage",
    "rotten": "Rotten",
    "cracked": "Cracked",
    "not_opened": "Not opened",
    "unaccounted": "Not written down",
}
"""Fate -> its name beside a bar."""
PUBLISHED_ROW = "Published"
THIS_ROW = "This hatch"
DAYS_AXIS = "days from setting"


def title(batch: str) -> str:
    """Batch B07."""
    return f"Batch {batch}"


def choice(name: BatchName) -> str:
    """B07, hatched 14 Mar 2026; still in the machine."""
    if not name.closed:
        return f"{name.batch}, in the machine since {day(name.set_on)}"
    return f"{name.batch}, hatched {day(name.hatch_on)}" if name.hatch_on else name.batch


def unknown_in_link(given: str, near: Sequence[str]) -> str:
    """What a link asked for that is not there."""
    said = f"The link asks for batch {given}, which these records do not have."
    return f"{said} Did you mean {' or '.join(near)}?" if near else said


def eggs_heading(species: BatchSpecies, *, alone: bool) -> str:
    """Where the eggs went."""
    return "Where the eggs went" if alone else f"Where the eggs went: {species_words(species.species)}"


def eggs_alt(species: BatchSpecies) -> str:
    """The picture of the eggs in words."""
    parts = [f"{fate.share.count} {fate.name}" for fate in species.fates]
    return f"Of {counted(species.eggs, 'egg')} set: {listed(parts)}."


def fate_beneath(fate: BatchFate) -> str:
    """12 eggs, 38 %."""
    return f"{counted(fate.share.count, 'egg')}, {percent(fate.share.share)} %"


def fate_row(fate: BatchFate) -> tuple[str, ...]:
    """A fate as a row of the table."""
    share = fate.share
    more = counted(share.left_open, "egg") if share.left_open else NOT_KNOWN
    return fate.name, f"{share.count}", f"{percent(share.share)} %", percent_range(share.interval), more


def pen_row(pen: BatchPen) -> tuple[str, ...]:
    """A pen as a row of the table."""
    return pen.pen, f"{pen.eggs_set}", _share(pen.hatch), _share(pen.without)


def _share(share: EggShare | None) -> str:
    return NOT_KNOWN if share is None else f"{share.count} of {share.eggs}: {share_words(share)}"


def hours_alt(hours: BatchHours) -> str:
    """The picture of the hours in words."""
    return " ".join(hours.sentences)


def sign_label(sign: BatchSign) -> str:
    """A sign on its fold."""
    return sign.sentence.rstrip(".")


def candidate_row(one: BatchCandidate) -> tuple[str, ...]:
    """A candidate as a row of the table."""
    return (
        one.cause,
        GROUPS[one.group],
        SUPPORT[one.support],
        " ".join(one.for_) or NOT_KNOWN,
        " ".join(one.against) or NOT_KNOWN,
        check_words(one),
    )


def check_words(one: BatchCandidate) -> str:
    """What to look at, what must be said with it, and what would tell and is not written down."""
    missing = f"Not written down: {listed(one.missing)}." if one.missing else ""
    return " ".join(part for part in (f"{one.next_check}.", one.note, missing) if part)


def advice_step(advice: Advice) -> tuple[str, str]:
    """What to do, and why, with where to write it."""
    where = f" {WRITE_INTO} {sheet_words(advice.where)}." if advice.where else ""
    return advice.what.rstrip("."), f"{advice.why}{where}"


def sheet_words(where: str) -> str:
    """The sheets set as words of the sheets."""
    parts = []
    for part in where.split("; "):
        sheet, _, rest = part.partition(": ")
        parts.append(f"`{sheet}`: {rest}" if rest else f"`{sheet}`")
    return "; ".join(parts)


def more_next(number: int) -> str:
    """5 more."""
    return f"{number} more"


def published_row(row: PublishedBeside) -> tuple[str, ...]:
    """A published figure as a row of the table."""
    note = f" ({row.note})" if row.note else ""
    return row.name, printed_words(row) + note, own_words(row), row.source


def cannot_label(how_many: int) -> str:
    """3 things that one batch cannot tell."""
    return f"{counted(how_many, 'thing')} that one batch cannot tell"


def published_label(how_many: int) -> str:
    """12 published figures, with this batch's beside them."""
    return f"{counted(how_many, 'published figure')}, with this batch's beside them"


def published_rest(rows: Sequence[PublishedBeside]) -> str:
    """What is published of rates that these records do not tell."""
    names = listed(list(dict.fromkeys(row.name.lower() for row in rows)))
    return f"Published of {names}, which this batch's records do not tell"


def other_row(other: OtherBatches) -> tuple[str, ...]:
    """Other batches as a row of the table."""
    whose = {
        "farm": "all of this bird",
        "incubator": f"in {other.label}",
        "pen": f"eggs of {other.label}",
    }[other.kind]
    return (
        whose,
        f"{other.batches}",
        f"{other.chicks:,} of {other.eggs:,}: {percent(other.chicks / other.eggs)} %",
        f"{percent(other.lowest)} %",
        f"{percent(other.highest)} %",
    )


def due_row(due: BatchDue) -> tuple[str, ...]:
    """What is due as a row of the table."""
    return (
        due.name, species_words(due.species), day_range(due.first, due.last), due.days, STATES[due.state],
    )  # fmt: skip


def due_sources(due: Sequence[BatchDue]) -> tuple[str, ...]:
    """Who says when to candle and to move the eggs."""
    return tuple(dict.fromkeys(f"{one.name}, {one.days}: {one.source}" for one in due if one.what != "hatch"))


def tray_row(row: TrayRow) -> tuple[str, ...]:
    """A tray as a row of the table."""
    return (
        row.tray,
        row.pen,
        words_losses.stored(row.storage_days),
        words_losses.number(row.eggs_set),
        words_losses.chicks_of(row),
        words_losses.tray_rest(row),
    )


def between_hours(first: float, last: float) -> str:
    """16.0 to 18.4 days, 384 to 441 h."""
    return f"{first / 24:.1f} to {last / 24:.1f} days, {first:.0f} to {last:.0f} h"


def hatch_hours(window: HatchWindow) -> str:
    """First 394 h, middle 411 h, last 428 h."""
    return f"first {window.first:.0f} h, middle {window.median:.0f} h, last {window.last:.0f} h"
