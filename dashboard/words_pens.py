"""What the page of pen against pen says; goes with words.py into another language."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.studies.pen_funnel import FunnelPoint, PenFunnel
from analytics.studies.pen_records import By, EggsWorth, PairAnswer, PenPair, PenRow, PensAnswer, Shrunk
from analytics.studies.pen_words import p_words, share_words, signed
from analytics.studies.wording import counted, listed, percent, percent_range, rate_words
from analytics.values import Interval
from dashboard.words import NOT_KNOWN, count, eggs, measure_name

PAGE = "Pens"
SIDES: dict[By, str] = {"pen": "Pen against pen", "line": "Line against line"}
ONE: dict[By, str] = {"pen": "Pen", "line": "Line"}
MANY: dict[By, str] = {"pen": "pens", "line": "lines"}

NO_TEST = "What would allow a comparison"
TOO_THIN = "That cannot be answered from these records"
RANKED_KEY = (
    "Filled mark: the rate. Line: its range, allowing for trays and batches that fail together. "
    "Pale bar: what unopened and clear eggs leave open. Small ring beneath: the best guess of the "
    "true rate, the nearer to what all have in common the fewer the eggs. Few eggs are drawn wide and pale."
)
RANKED_SHADED = "Shaded row: stands out with batch, machine and storage held equal."
TOGETHER = "all together"
FUNNEL_HEADING = "Could chance alone do that?"
FUNNEL_KEY = (
    "Straight across: the rate of all together. If nothing but chance set them apart, 95 in 100 would lie "
    "between the dashed limits and 998 in 1,000 between the dotted ones. More eggs, narrower limits."
)
FUNNEL_OPEN = "An upright bar is what clear and unopened eggs leave open; it is outside only as a whole."
FUNNEL_CAUTION = (
    "Neither machine nor storage is held equal here. What lies outside is a question; "
    "the test that holds them equal answers it."
)
FUNNEL_ONE = "One alone cannot be held against what is common to all."
INSIDE = "within the limits"

TWO_HEADING = "Two of them"
TWO_LEDE = "Choose two. All others still help to tell their machines, their storage and chance apart."
TWO_DIFFERENCE = "Difference"
TWO_HELD = "held equal what could be"
TWO_SHARED = "Batches shared"
TWO_SHARED_NONE = "so others must link them"
TWO_MORE = "More eggs of each"
TWO_MORE_BENEATH = "to decide 80 times in 100, if the difference stays so"
TWO_DECIDED = "none needed"
TWO_DECIDED_BENEATH = "it is decided already"
TWO_CANNOT = "cannot be said"
TWO_CANNOT_BENEATH = "with these records"

NUMBERS_HEADING = "The numbers"
NUMBERS_FOLDED = "All rates as a table"
COL_SPECIES = "Species"
COL_RATE = "Rate"
COL_CLEAR = "Clear"
ONLY_RANGE = "only a range"
COL_RANGE = "Range"
COL_OPEN = "As eggs not told apart fall"
COL_GUESS = "Best guess"
COL_EGGS = "Eggs"
COL_WHY = "Not compared because"
COL_LIMITS = "Against the limits"
COL_PAIR = "Pair"
COL_POINTS = "Difference, points"
COL_P = "p"
COL_Q = "q"
COL_PAIR_WHY = "Not compared because"
PAIRS_LEDE = (
    "The first of a pair less the second, with batch, machine and storage held equal, the surest first. "
    "q allows for the many pairs: of those at least as sure as this one, about that share are false alarms."
)
DOWNLOAD_NUMBERS = "Take the numbers"
DOWNLOAD_PAIRS = "Take all pairs"

TESTED_HEADING = "How this was tested"
TESTED_LEDE = (
    "The same question in three ways. p is how often chance alone would set them apart at least as much; "
    "under 0.05 is taken as a difference."
)
COL_TEST = "Test"
COL_TAKES = "What it takes for granted"
COL_WEIGHT = "Weight"
COL_DETAIL = "In the statistician's words"
CLUSTERED, STRATIFIED, INDEPENDENT = (
    "Trays and batches that fail together",
    "Batch by batch",
    "As if every egg were independent",
)
TAKES = {
    CLUSTERED: "eggs of a tray, and trays of a batch, are alike; machine and storage are held equal if known",
    STRATIFIED: "only eggs of one batch are held against each other; eggs of a tray do not sway one another",
    INDEPENDENT: "no egg shares anything with another; calls chance a difference too often",
}
DECIDES = "decides"
SHOWN_ONLY = "for comparison"
NOT_MADE = "not made"
RESTS_HEADING = "What it rests on"


def title(measure: str, by: By) -> str:
    """Pen against pen: fertility."""
    return f"{SIDES[by]}: {measure_name(measure).lower()}"


def answer_lines(answer: PensAnswer) -> tuple[str, ...]:
    """The answer, a sentence each: those who stand out, or what could have been seen."""
    scope = answer.words.scope
    if answer.findings:
        first, *more = (one.sentence for one in answer.findings)
        return first, scope, *more
    first, stop, rest = answer.words.sentence.partition(". ")
    return (f"{first}." if stop else first, scope, *([rest] if rest else []))


def ranked_heading(by: By) -> str:
    """Heading of the picture of rates."""
    return f"The {MANY[by]} in order"


def eggs_of(row: PenRow) -> str:
    """1,232 eggs, to the nearest egg, or that there are none."""
    return "no eggs counted" if row.eggs is None else eggs(round(row.eggs))


def row_beneath(row: PenRow, *, stands_out: bool) -> str:
    """What stands beneath a name in the picture."""
    if stands_out:
        return f"{eggs_of(row)}, stands out"
    return eggs_of(row) if row.compared else f"{eggs_of(row)}, not compared"


def together(common: tuple[float, float]) -> str:
    """all together 70 %."""
    return f"{TOGETHER} {share_words(common)}"


def ranked_alt(species: str, measure: str, rows: Sequence[PenRow], named: Sequence[str]) -> str:
    """The picture of rates as a sentence."""
    if not rows:
        return f"{species}: {measure_name(measure).lower()} is not known of any."
    each = "; ".join(
        f"{row.pen} {rate_words(row.rate)}, {row_beneath(row, stands_out=row.pen in named)}" for row in rows
    )
    return f"{species}, {measure_name(measure).lower()}, highest first: {each}."


def funnel_alt(species: str, measure: str, funnel: PenFunnel) -> str:
    """The picture of rates against eggs as a sentence."""
    outside = [point for point in funnel.points if point.beyond]
    said = (
        f"{species}, {measure_name(measure).lower()} against eggs: {counted(len(funnel.points), 'mark')} "
        f"about {share_words(funnel.common)} {funnel.base} for all together."
    )
    if not outside:
        return f"{said} All lie within the limits of chance."
    return f"{said} {listed([f'{point.pen} is {limits_words(point)}' for point in outside])}."


def funnel_note(funnel: PenFunnel) -> str:
    """By how much the limits are widened."""
    if funnel.deff < 1.05:
        return "Eggs of a tray or batch are hardly alike here, so the limits are nearly those of single eggs."
    return (
        f"Eggs of a tray or batch are alike, so the limits are those of {funnel.deff:.1f} times fewer eggs."
    )


def limits_words(point: FunnelPoint) -> str:
    """below the 95 % limit."""
    if point.beyond is None:
        return INSIDE
    return f"{'below' if point.below else 'above'} the {level_words(point.beyond)} limit"


def mark_words(point: FunnelPoint) -> str:
    """Hazel, 80–87 % of 1,255 eggs."""
    return f"{point.pen}, {point_rate(point)} of {eggs(round(point.eggs))}"


def level_words(level: float) -> str:
    """95 %."""
    return f"{level * 100:g} %"


def point_rate(point: FunnelPoint) -> str:
    """The rate of a mark, or what is open of it."""
    return share_words((point.low, point.high))


def best_guess(shrunk: Shrunk | None) -> str:
    """89 % (82–94 %)."""
    if shrunk is None:
        return NOT_KNOWN
    return f"{percent(shrunk.rate)} % ({percent_range(Interval(shrunk.low, shrunk.high, 0.95, ''))})"


def rate_column(answer: PensAnswer) -> str:
    """Rate, of set: the heading names what the rates are a share of."""
    return f"{COL_RATE}, {answer.rows[0].rate.base}" if answer.rows else COL_RATE


def rate_cell(row: PenRow) -> str:
    """The rate, or that there is only a range."""
    if row.rate.value is not None:
        return f"{percent(row.rate.value)} %"
    return ONLY_RANGE if row.rate.interval else NOT_KNOWN


def apart_cell(row: PenRow) -> str:
    """Why one is not compared; nothing where it is."""
    return row.why if row.why and not (row.compared and row.rate.interval) else NOT_KNOWN


def eggs_cell(row: PenRow) -> str:
    """The eggs in the denominator."""
    return count(row.eggs)


def numbers_caption(measure: str, by: By) -> str:
    """What the table of rates is."""
    return f"{measure_name(measure)} of all {MANY[by]}"


def pairs_label(pairs: Sequence[PenPair]) -> str:
    """The head of the folded table."""
    return f"All pairs ({len(pairs)})"


def pair_name(pair: PenPair) -> str:
    """Hazel less Rowan."""
    return f"{pair.pen_a} less {pair.pen_b}"


def in_points(share: float | None) -> str:
    """-8.8, or a dash."""
    return NOT_KNOWN if share is None else signed(share)


def points_range(pair: PenPair) -> str:
    """-14 to -3.4."""
    return (
        NOT_KNOWN if pair.low is None or pair.high is None else f"{signed(pair.low)} to {signed(pair.high)}"
    )


def two_figures(answer: PairAnswer) -> tuple[tuple[str, str, str], ...]:
    """Name, figure and what stands beneath: difference, batches shared, eggs that would decide."""
    pair, shared = answer.pair, len(answer.shared_batches)
    points = f"{in_points(pair.difference)} points" if pair.difference is not None else NOT_KNOWN
    beneath = (
        f"{points_range(pair)}; {p_words(pair.p_value)}" if pair.p_value is not None else TWO_CANNOT_BENEATH
    )
    return (
        (TWO_DIFFERENCE, points, beneath),
        (TWO_SHARED, count(shared), _some(answer.shared_batches) if shared else TWO_SHARED_NONE),
        _more(answer),
    )


def _more(answer: PairAnswer) -> tuple[str, str, str]:
    if answer.decided:
        return TWO_MORE, TWO_DECIDED, TWO_DECIDED_BENEATH
    if answer.more_eggs is None:
        return TWO_MORE, TWO_CANNOT, TWO_CANNOT_BENEATH
    return TWO_MORE, count(answer.more_eggs), TWO_MORE_BENEATH


def _some(batches: Sequence[str], most: int = 3) -> str:
    more = len(batches) - most
    return listed([*batches[:most], f"{more} more"]) if more > 0 else listed(list(batches))


def test_detail(test: HypothesisTest) -> str:
    """The method with its statistic, or why it was not made."""
    if test.statistic is None:
        return f"{test.method}: {test.why}" if test.why else test.method
    freedom = [f"{dof:.3g}" for dof in (test.dof, test.dof2) if dof is not None]
    of_freedom = f", degrees of freedom {listed(freedom)}" if freedom else ""
    return f"{test.method}: {test.statistic:.2f}{of_freedom}"


def worth(told: EggsWorth) -> str:
    """How alike eggs of a tray are, and what that costs."""
    return (
        f"{told.sentence} Two eggs of one tray are alike to the degree {told.icc:.3f}, where 0 is no more "
        "than any two and 1 is wholly (intra-class correlation); trays of one batch add to it. "
        f"So it takes {told.deff:.1f} eggs to tell what one would alone (design effect)."
    )
