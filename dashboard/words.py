"""Everything the dashboard says; another language is another copy of this file and of words_*.py beside it.

Numbers are put into words here too, so that a rate never appears without what it is a share of.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

from analytics.studies.pen_words import p_words
from analytics.studies.records import OpenBatch, PenMonth
from analytics.studies.wording import (
    MEASURE_NAMES,
    counted,
    day_range,
    listed,
    long_day,
    month_name,
    percent_range,
    rate_words,
    short_day,
)
from analytics.studies.wording import percent as bare_percent
from analytics.values import Month, Rate

NAME = "penwise"
NOT_KNOWN = "–"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MEANINGS: dict[str, str] = {
    "hatch_of_set": "live chicks, kept or not, of the eggs set",
    "saleable_of_set": "chicks kept, of the eggs set",
    "fertility": "fertile eggs, of the eggs that were not cracked",
    "hatch_of_fertile": "live chicks, kept or not, of the fertile eggs",
    "early_loss": "dead early, of the fertile eggs",
    "mid_loss": "dead in the middle, of the fertile eggs",
    "late_loss": "dead late and not pipped, of the fertile eggs",
    "shell_loss": "pipped but not out, of the fertile eggs",
    "rotten": "rotten or burst, of the eggs set",
    "cull_rate": "live chicks not kept, of the chicks hatched",
}
"""Measure word -> what it is, in the order in which it is offered."""
FIRST_MEASURE = "hatch_of_set"

# Navigation and frame
GROUPS = ("How did it go?", "Why?", "What next?", "Your records")
"""The breeder's questions under which the pages stand."""
QUESTIONS: dict[str, str] = {
    "month": "How did this month go?",
    "batch": "What became of these eggs?",
    "pens": "Is this pen really worse, or was it chance?",
    "trends": "What does it go with?",
    "losses": "Whose loss is it?",
    "incubators": "If it is the incubator, what about it?",
    "changes": "Did each change work?",
    "breeders": "Which birds to keep?",
    "plan": "Which eggs go where next?",
    "bench": "What came out of these eggs?",
    "records": "What is written down?",
    "sources": "Where does a figure come from?",
}
"""Page -> the question it answers."""
READER = "Units, contrast"
READER_DEGREES = "Temperatures"
DEGREES_NAMES = {"c": "°C", "f": "°F"}
READER_DAYS = "Days"
DAYS_NAMES = {"day": "14 Mar 2026", "month": "Mar 14, 2026", "iso": "2026-03-14"}
READER_CONTRAST = "Contrast"
CONTRAST_NAMES = {"as-asked": "as this computer asks", "high": "high"}
READER_NOTE = (
    "Kept in the page's link, so that a bookmark keeps it. Light or dark is as this computer asks. "
    "Record sheets always hold °C and days such as 2026-03-14."
)
PAGE_MONTH = "This month"
PAGE_RECORDS = "Records"
FILTERS = "Show only some of it"
FILTER_MONTH = "Month of hatch"
FILTER_AGAINST = "Set beside"
AGAINST_NAMES = {"": "Twelve months before", "year-ago": "Same month last year"}
"""What a month is set beside -> its name; else a month."""
FILTER_SPECIES = "Species"
FILTER_PENS = "Pens"
FILTER_INCUBATORS = "Machines"
FILTER_MEASURE = "Rate in the pictures"
FILTER_FROM = "Hatched from"
FILTER_TO = "Hatched until"
FILTER_BY = "Set side by side"
BY_NAMES: dict[str, str] = {"pen": "pens", "line": "lines"}
FILTER_ALONG = "Does it go with"
ALONG_NAMES: dict[str, str] = {
    "month": "the months?",
    "storage": "days of storage?",
    "hen_age": "the hens' age?",
    "males_per_female": "males per female?",
}
FILTER_STRIPES = "Stripes of"
FILTER_TWO = "Press two: is this one unlike that one?"
FILTER_FIRST = "Is this one"
FILTER_SECOND = "unlike this one?"
CHOOSE = "choose"
FROM_THE_FIRST = "the first month"
TO_THE_LAST = "the last month"
ALL = "all"
EXAMPLE_BANNER = (
    "You are looking at an invented smallholding. Nothing here is real, and your own records are not touched."
)
EXAMPLE_LEAVE = "Go to my own records"
READING = "Reading the records"
BUILDING_EXAMPLE = "Making up a smallholding; this takes some seconds"
CHECKING = "Checking the sheets"
KEEPING = "Keeping the records"

# An empty store
WELCOME_TITLE = "No hatch is written down yet"
WELCOME_LEDE = (
    "As soon as one batch is out of the machine, these pages say how it went. Begin in one of three ways."
)
WELCOME_WAYS = (
    ("Look around first", "An invented smallholding with some years of hatches shows what every page says."),
    (
        "Write down your first hatch",
        "Take the empty sheets. Four are needed: pens, incubators, batches and trays. "
        "Every heading has a note of what belongs there.",
    ),
    (
        "Bring in what you have",
        "Sheets that are filled in, as CSV files or one workbook, are checked first "
        "and kept only when they are right.",
    ),
)
WELCOME_EXAMPLE = "Open the invented smallholding"
WELCOME_EXAMPLE_COMMAND = "penwise demo"
WELCOME_BRING = "Go to Records"
BLANK_WORKBOOK = "Empty workbook (.xlsx)"
BLANK_TABLES = "Empty tables (.zip of CSV)"
BLANK_WORKBOOK_FILE = "penwise-sheets.xlsx"
BLANK_TABLES_FILE = "penwise-sheets.zip"

# The month
MONTH_NONE_TITLE = "No batch is finished yet"
MONTH_NONE_LEDE = "A rate needs a batch that is out of the machine. What is still in it stands below."
PERIOD_NONE_LEDE = "A comparison needs batches that are out of the machine. This month shows what is in it."
FIRST_WAIT = "Looking for what stands out"
FIRST_WAIT_LINES = ("This takes some seconds. The month's numbers are below already.",)
NOTHING_SELECTED = "No eggs hatched in this selection, this month or in the twelve before."
NONE_THIS_MONTH = "No batch with this species hatched this month. The months before are below."
CHICKS_ARE = "live, kept or not"
AS_TEXT = "The same as text, to copy"
AS_TABLE = "The same in words and as a table"
TABLE_HEADING = "The numbers"
TABLE_FOLDED = "All rates as a table"
MADE_HEADING = "How these numbers were made"
TAKE_AS = {"csv": "CSV", "xlsx": "Workbook (XLSX)", "parquet": "Parquet", "svg": "SVG", "png": "PNG"}
"""Ending of a file -> its name on the button."""
TAKE_PICTURE = "Take the picture"
OPEN_HEADING = "Still in the machine"
OPEN_LEDE = "These batches are in no rate until they are taken out."
OPEN_NONE = "No batch is in a machine."
GAPS_HEADING = "What the records leave open"
GAPS_NONE = "Nothing that these rates need is missing in this month's records."
CHART_KEY = (
    "Dot: the rate. Line: its range, allowing for trays and batches that fail together. "
    "Pale bar: what unopened and clear eggs leave open."
)
PENS_KEY = "Few eggs are drawn wide and pale. Small ring: the pen's twelve months before, taken together."
PENS_KEY_MONTH = "Few eggs are drawn wide and pale. Small ring: the pen in {month}."
AIM = "your aim"
TWELVE_BEFORE = "twelve months before"
COL_PEN = "Pen"
COL_EGGS = "Eggs set"
COL_CHICKS = "Chicks"
COL_RATE_NAME = "Rate"
COL_RATE = "Share"
COL_BEFORE_12 = "Twelve months before"
COL_RANGE = "Range"
COL_COUNT = "Counted"
COL_OPEN = "As eggs not told apart fall"
COL_AIM = "Your aim"
COL_TRAYS = "Trays"
COL_BATCHES = "Batches"
COL_LEFT_OUT = "Trays left out"
COL_METHOD = "How"
COL_INDEPENDENT = "If every egg were on its own"
COL_MONTH = "Month"
COL_BATCH = "Batch"
COL_MACHINE = "Machine"
COL_SPECIES = "Species"
COL_SET_ON = "Set on"
COL_DUE = "Expected"
COL_STATE = "State"
COL_GAP = "What is missing"
COL_GAP_WHERE = "Where"
COL_REPAIR = "What to write down"
MADE_INTRO = (
    "Every rate is a count divided by a count, from the trays whose counts are recorded. The range is the "
    "part to read: a month with few eggs cannot say much, and the range says how little. "
    "Where clear or unopened eggs leave a rate open, the range reaches from the worst to the best "
    "that they allow. “As eggs not told apart fall” shows that part alone."
)

# Records
RECORDS_LEDE = "Bring in record sheets, take empty ones, and see what is kept and what was changed."
BRING_HEADING = "Bring in record sheets"
BRING_LEDE = (
    "CSV files named after their sheet, such as trays.csv, or one workbook. They are checked first; "
    "nothing is kept before you say so."
)
BRING_LABEL = "Record sheets"
BRING_HELP = "Several files may be chosen together, so that trays find their batches."
LOGGER_HEADING = "A logger's file with headings of its own"
LOGGER_LEDE = (
    "Leave all of this blank for record sheets. For a logger's file, say in which machine it hung "
    "and copy its headings."
)
LOGGER_MACHINE = "Machine in which it hung"
LOGGER_NONE = "not a logger's file, or the file says it"
LOGGER_COLUMNS = {
    "at": "Heading of the time",
    "temperature_c": "Heading of the temperature",
    "humidity_pct": "Heading of the humidity",
}
LOGGER_FAHRENHEIT = "Its temperatures are °F"
REJECTED_HEADING = "Nothing was kept"
PROBLEM_WHERE = "Where"
PROBLEM_GIVEN = "What stands there"
PROBLEM_RULE = "The rule"
PROBLEM_REPAIR = "How to mend it"
RIGHT_HEADING = "The sheets are right"
KEEP = "Keep these records"
KEEP_CORRECTED = "Take the corrections and keep these records"
NOTHING_NEW = "All of it is in the store already. There is nothing to keep."
CORRECTIONS_HEADING = "Values that would change"
COL_SHEET = "Sheet"
COL_BEFORE = "In the store"
COL_AFTER = "In the sheet"
WARNINGS_HEADING = "Worth a look"
KEPT_HEADING = "Kept"
KEPT_SEE = "See how the month went"
EMPTY_HEADING = "Take empty sheets"
EMPTY_LEDE = (
    "Each heading carries a note. Leave a cell blank when it was not recorded; "
    "write 0 when you counted and found none."
)
KEPT_IN_STORE = "What is in the store"
STORE_EMPTY = "Nothing yet."
COL_ROWS = "Rows"
COL_ROW_IS = "One row is"
LOADS_HEADING = "Last loads and withdrawals"
COL_WHEN = "When"
COL_WHO = "Who"
COL_WHAT = "From"
COL_ADDED = "Added"
COL_CORRECTED = "Corrected"

# When something is in the way
TROUBLE_BUSY = "The store is in use by another program"
TROUBLE_BUSY_DO = "Wait until the other load or command has ended, then try again."
TROUBLE_DAMAGED = "The store cannot be read"
TROUBLE_DAMAGED_DO = (
    "Leave the file as it is and bring back a copy: penwise restore FILE. penwise check says more."
)
TROUBLE_TOO_NEW = "The store was written by a newer penwise"
TROUBLE_TOO_NEW_DO = "Install the newer penwise on this computer. The file was not touched."
TROUBLE_NOT_A_STORE = "The file is not a store of penwise"
TROUBLE_NOT_A_STORE_DO = "Stop the dashboard and start it with another file: penwise serve --store FILE."
TROUBLE_OTHER = "That cannot be answered"
TROUBLE_GONE = "The store is not there any more"
TROUBLE_GONE_DO = (
    "Put the file back where it was, or bring back a copy: penwise restore FILE. "
    "Nothing is written before that."
)
TROUBLE_FULL = "There is no room left on the disk"
TROUBLE_FULL_DO = "Free some room, then try again. What was kept before is safe; the last step was not kept."
TROUBLE_CLOSED = "The file may not be read or written"
TROUBLE_CLOSED_DO = "Give yourself the right to it, or start the dashboard as the one whose file it is."
TROUBLE_MEMORY = "There is not enough memory for this"
TROUBLE_MEMORY_DO = "Close other programs, or choose fewer months or pens, then try again."
TROUBLE_UNFORESEEN = "This page could not be made"
TROUBLE_UNFORESEEN_DO = (
    "The records are as they were. Try again; if it comes back, penwise check says whether the store is "
    "whole, and the window in which the dashboard was started says what happened."
)
AT_WORK = "At work"
STOP = "Stop"
STOPPED = "Stopped"
STOPPED_SAFE = "Nothing was changed: the records are as they were, and what was worked out before is kept."
STOPPED_ON = "Begin again"
TRY_AGAIN = "Try again"
NO_STORE_GIVEN = (
    "The dashboard was started without being told which store to show. Start it by penwise serve."
)


def gone(store: Path) -> str:
    """Where the store was."""
    return f"A moment ago it was {store}. It was moved, renamed or deleted, or its disk was taken out."


def not_allowed(file: str) -> str:
    """Which file may not be used; "" where that is not known."""
    return f"The system refuses {file}." if file else ""


def example_banner(today: date | None) -> str:
    """That nothing is real, and which day it is there."""
    return EXAMPLE_BANNER if today is None else f"{EXAMPLE_BANNER} In it, today is {long_day(today)}."


def day(when: date) -> str:
    """14 Mar 2026."""
    return short_day(when)


def percent(share: float | None) -> str:
    """81 % of a share 0..1, or a dash."""
    return NOT_KNOWN if share is None else f"{bare_percent(share)} %"


def count(number: float | None) -> str:
    """A count; with one decimal where eggs of unknown stage were shared out."""
    if number is None:
        return NOT_KNOWN
    return f"{number:,.0f}" if float(number).is_integer() else f"{number:,.1f}"


def chance(p_value: float | None) -> str:
    """0.03 or < 0.001, or a dash."""
    return NOT_KNOWN if p_value is None else p_words(p_value).removeprefix("p ").removeprefix("= ")


def with_base(rate: Rate) -> str:
    """77 % of set; only a range, of fertile; or a dash."""
    if rate.value is not None:
        return f"{percent(rate.value)} {rate.base}"
    return f"only a range, {rate.base}" if rate.interval else NOT_KNOWN


def counts(rate: Rate) -> str:
    """97 of 120."""
    if rate.count is None or rate.eggs is None:
        return NOT_KNOWN
    return f"{count(rate.count)} of {count(rate.eggs)}"


def range_of(rate: Rate) -> str:
    """The range of a rate, or a dash."""
    return percent_range(rate.interval) if rate.interval else NOT_KNOWN


def left_open(rate: Rate) -> str:
    """What clear and unopened eggs leave open; "nothing" where they leave nothing."""
    if rate.possible is None:
        return NOT_KNOWN
    return "nothing" if rate.possible.low == rate.possible.high else percent_range(rate.possible)


def measure_name(measure: str) -> str:
    """The name of a measure; a word not known here is shown as it is."""
    return MEASURE_NAMES.get(measure, measure.replace("_", " ").capitalize())


def measure_choice(measure: str) -> str:
    """A measure in the list of choices: name and meaning."""
    return f"{measure_name(measure)}: {MEANINGS[measure]}"


def eggs(number: int) -> str:
    """1 egg, 120 eggs."""
    return counted(number, "egg")


def batches_line(number: int) -> str:
    """in 3 batches."""
    return f"in {counted(number, 'batch', 'batches')}"


def figure(rate: Rate) -> str:
    """The figure of a rate: the rate, else its range, else a dash."""
    return percent(rate.value) if rate.value is not None else range_of(rate)


def beneath(rate: Rate, target: float | None) -> str:
    """What stands beneath the figure: base, range and the breeder's aim, or why there is no rate."""
    if rate.value is not None:
        said = f"{rate.base}, range {range_of(rate)}"
    else:
        said = f"{rate.base}, only a range" if rate.interval else rate.why
    return said if target is None else f"{said}; {AIM} {percent(target)}"


def independent(rate: Rate) -> str:
    """The range as if every egg were on its own, for comparison."""
    return percent_range(rate.independent) if rate.independent else NOT_KNOWN


def method(rate: Rate) -> str:
    """How the range was made, and what the reader must know."""
    made = f"{percent(rate.interval.level)}: {rate.interval.method}." if rate.interval else ""
    return " ".join(part for part in (made, rate.why) if part) or NOT_KNOWN


def months_key(target: float | None) -> str:
    """How to read the picture of the months."""
    return CHART_KEY if target is None else f"{CHART_KEY} Dashed line: {AIM}, {percent(target)}."


def months_heading(measure: str) -> str:
    """Heading of the picture of the months."""
    return f"{measure_name(measure)} month by month"


def pens_heading(measure: str) -> str:
    """Heading of the picture of the pens."""
    return f"{measure_name(measure)} pen by pen"


def numbers_caption(species: str) -> str:
    """What the table of rates is."""
    return f"All rates of {species.lower()} in this month"


def made_caption(species: str) -> str:
    """What the table behind the rates is."""
    return f"What each rate of {species.lower()} rests on"


def stages_line(division: str) -> str:
    """Which days count as early, middle and late."""
    return f"Days of death: {division}. Other books divide them otherwise."


def months_alt(species: str, measure: str, points: Sequence[tuple[Month, Rate]]) -> str:
    """The picture of the months as a sentence, for who cannot see it."""
    if not points:
        return f"{species}: {measure_name(measure).lower()} is not known for any of these months."
    last, rate = points[-1]
    said = (
        f"{species}, {measure_name(measure).lower()} by month of hatch, {counted(len(points), 'month')}"
        f" drawn. {month_name(last)}: {rate_words(rate)}."
    )
    valued = [point for point in points if point[1].value is not None]
    if len(valued) > 1:
        low = min(valued, key=lambda point: point[1].value or 0.0)
        high = max(valued, key=lambda point: point[1].value or 0.0)
        said += (
            f" Lowest {percent(low[1].value)} in {month_name(low[0])}, "
            f"highest {percent(high[1].value)} in {month_name(high[0])}."
        )
    return said


def pens_alt(species: str, measure: str, pens: Sequence[PenMonth]) -> str:
    """The picture of the pens as a sentence."""
    if not pens:
        return f"{species}: {measure_name(measure).lower()} is not known for any pen this month."
    each = "; ".join(
        f"{pen.pen} {rate_words(pen.rates[measure])}, {eggs(pen.rates[measure].eggs_set)} set" for pen in pens
    )
    return f"{species}, {measure_name(measure).lower()} by pen, in the order drawn: {each}."


def beside(against: Month | None) -> str:
    """What the rates are set beside, as the head of a column."""
    return month_name(against) if against else COL_BEFORE_12


def title_of(alt: str) -> str:
    """The head of a picture's sentence: what stands before its numbers."""
    return alt.split(": ")[0].split(". ")[0]


def due(batch: OpenBatch) -> str:
    """When a hatch is expected."""
    if batch.due_from is None or batch.due_to is None:
        return "not known for this species"
    return day_range(batch.due_from, batch.due_to)


def batch_state(batch: OpenBatch, as_of: date) -> str:
    """Whether a batch is overdue, hatching or still sitting."""
    if batch.overdue_days > 0:
        return (
            f"{counted(batch.overdue_days, 'day')} overdue: look into it, or write down when it was taken out"
        )
    if batch.due_from is not None and batch.due_from <= as_of:
        return "hatching days"
    return "in the machine"


def gap_where(where: Sequence[str], how_many: int) -> str:
    """The places of a gap, with how many more there are."""
    more = how_many - len(where)
    return listed([*where, f"{more} more"] if more > 0 else list(where))


def unknown_in_link(field: str, given: Sequence[str]) -> str:
    """The link names something that the store does not have."""
    named = ", ".join(f"“{text}”" for text in given[:3])
    more = f" and {len(given) - 3} more" if len(given) > 3 else ""
    return f"{field}: the link names {named}{more}, which the records do not have. It was left out."


def bad_month_in_link(given: str) -> str:
    """The link names a month without a finished batch."""
    return f"The link asks for the month “{given}”, in which no batch was finished. The last month is shown."


def bad_end_in_link(field: str, given: str) -> str:
    """The link names a month without a finished batch as an end of the period."""
    return f"{field}: the link asks for “{given}”, in which no batch was finished. It was left out."


def backwards_in_link(start: str, end: str) -> str:
    """The link's period ends before it begins."""
    return f"The link asks for the time from {start} until {end}, which runs backwards. All months are shown."


def bad_target_in_link(given: str) -> str:
    """The link names a number of chicks that cannot be wanted of 100 eggs."""
    return f"The link asks for “{given}” chicks of 100 eggs. It was left out: give 1 to 100."


def twice_in_link(label: str) -> str:
    """The link holds one against itself."""
    return f"The link sets {label} beside itself. Choose another to hold it against."


def too_many_in_link(field: str, most: int) -> str:
    """The link names more than we read."""
    return f"{field}: the link names very many. The first {most} were read."


def problems_found(total: int) -> str:
    """How many things are wrong with the sheets."""
    return (
        f"{counted(total, 'problem')} in the sheets. None of these files was kept, and nothing in the store "
        "was changed. Mend the places below and choose the files again."
    )


def problems_more(shown: int, total: int) -> str:
    """How many problems are not listed."""
    return f"The first {shown} of {total} are listed; mend these first."


def place(sheet: str, rows: str, column: str) -> str:
    """trays, row 12, hatched."""
    return ", ".join(part for part in (sheet, rows, column) if part)


def store_at(store: Path) -> str:
    """Where the records are."""
    return f"The records are kept in one file on this computer: {store}"


def moment(when: datetime) -> str:
    """14 Mar 2026, 18:30."""
    return f"{day(when.date())}, {when:%H:%M}"


def would_add(added: int, corrected: int, unchanged: int) -> str:
    """What keeping the sheets would do."""
    return (
        f"{counted(added, 'row')} would be added and {count(corrected)} corrected; "
        f"{counted(unchanged, 'row')} the same as in the store."
    )


def corrections_lede(shown: int, total: int) -> str:
    """How much would change."""
    more = "" if shown == total else f" The first {shown} of {total} are listed."
    return f"The store has other values for these. The old ones stay in the history.{more}"


def value(text: str | None) -> str:
    """A cell's value, or that there is none."""
    return "not recorded" if text is None else text


def ignored(names: Sequence[str]) -> tuple[str, ...]:
    """Files that were no record sheets, if any."""
    return (f"Not read, because they are no record sheets: {listed(list(names))}.",) if names else ()


def was_kept(added: int, corrected: int) -> str:
    """What a load did."""
    return f"{counted(added, 'row')} added, {count(corrected)} corrected."


def filters_label(how_many: int) -> str:
    """The button that opens the filters, with how many are set."""
    return f"{FILTERS} ({how_many} chosen)" if how_many else FILTERS


def page_title(page: str) -> str:
    """The title of the browser's tab."""
    return f"{page} · {NAME}"
