"""A trend in sentences: how many points a day, a week, a month, and what it may be besides."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.comparisons.slope_records import OddsRatio, Slope
from analytics.studies.pen_words import measure_words, p_words, points
from analytics.studies.trend_records import Along, TrendSlopes, TrendTests, TrendWords
from analytics.studies.wording import counted, minus, percent
from analytics.values import Base, Used

BASES: dict[str, Base] = {
    "fertility": Base.OF_LADDER,
    "hatch_of_set": Base.OF_SET,
    "saleable_of_set": Base.OF_SET,
    "cull_rate": Base.OF_HATCHED,
    "hatch_of_fertile": Base.OF_FERTILE,
    "early_loss": Base.OF_FERTILE,
    "mid_loss": Base.OF_FERTILE,
    "late_loss": Base.OF_FERTILE,
    "shell_loss": Base.OF_FERTILE,
    "rotten": Base.OF_SET,
}
"""Measure word -> what it is a share of."""
_STEPS: dict[Along, tuple[str, float]] = {
    "storage": ("day of storage", 1.0),
    "hen_age": ("week of hens' age", 1.0),
    "month": ("month", 1.0),
    "males_per_female": ("male more to ten females", 0.1),
}
"""The step that a slope is told for, and how much of x it is."""
_NAMES: dict[Along, str] = {
    "storage": "storage",
    "hen_age": "hens' age",
    "month": "time",
    "males_per_female": "the number of males per female",
}
_ALPHA = 0.05
_LITTLE = 0.3
"""Points under which two decimals are told."""
_LITTLE_ALL, _MUCH = 1.0, 20.0
"""Points under which several numbers of one sentence have two decimals, and one."""
_NARROW, _SMALL, _LARGE = 1.1, 0.1, 1000.0
"""High over low, and size, under which an odds ratio has a third decimal; the largest that is told."""
OF_TIME = 0.95
"""Share of x that goes with the month from which the two are not told apart."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What the sentences need besides the tests.

    Attributes:
        measure: the measure word.
        by: what the trend runs along.
        used: trays used, and left out because x is not recorded.
        pens: pens with x recorded.
        machines: machines of the step.
        species: species in the selection.
        clear: clear eggs that matter.
        months: whether there is more than one month of hatch.
        of_time: share of x that goes with the month of hatch, 0..1.
        mean: rate of all trays with x recorded, 0..1; the middle of what clear eggs leave open.
    """

    measure: str
    by: Along
    used: Used
    pens: int
    machines: int
    species: int
    clear: float
    months: bool
    of_time: float
    mean: float

    @property
    def rate(self) -> str:
        """`early loss of fertile`; the base is not said twice."""
        name, base = measure_words(self.measure), str(BASES[self.measure])
        return name if name.endswith(base) else f"{name} {base}"


def trend_words(facts: Facts, tests: TrendTests, slopes: TrendSlopes) -> TrendWords:
    """Everything that is said about a trend."""
    slope = tests.clustered
    if slope.estimate is None:
        why = _why(facts, slope)
        sentence = f"Whether {facts.rate} goes with {_NAMES[facts.by]} cannot be told here. {why}"
        return TrendWords(sentence, tuple(_missing_notes(facts)), why)
    notes = tuple(note for note in _notes(facts, tests, slopes) if note)
    return TrendWords(_sentence(facts, tests), notes, "")


def _sentence(facts: Facts, tests: TrendTests) -> str:
    if _p(tests.clustered) < _ALPHA:
        said = _moved(facts, tests.clustered)
        return f"{said}, {_where(facts, tests)}. {_odds(facts, tests.clustered)}".strip()
    called = [_p(end) < _ALPHA for end in tests.ends]
    return _left_open(facts, tests) if any(called) else _none_found(facts, tests)


def _p(slope: Slope) -> float:
    return 1.0 if slope.p_value is None else slope.p_value


def _why(facts: Facts, slope: Slope) -> str:
    if not facts.used.trays:
        return {
            "storage": "No tray has laying dates or days of storage: write laid_from and laid_to into trays.",
            "hen_age": "Hens' age is not recorded: write hens_hatched_on into pens.",
            "males_per_female": "Males and females are not recorded: write both into pens.",
            "month": "No tray has a day of hatch.",
        }[facts.by]
    return "All batches hatched in one month." if facts.by == "month" and not facts.months else slope.why


def _moved(facts: Facts, slope: Slope) -> str:
    """`Hatch of set fell by 0.5 points a month (0.3 to 0.7)`; what is no time, it goes with."""
    if facts.by != "month":
        return f"Each {_STEPS[facts.by][0]} goes with {_change(facts, slope)}"
    size, ends, rose = _size(facts, slope)
    name = f"{facts.rate[:1].upper()}{facts.rate[1:]}"
    return f"{name} {'rose' if rose else 'fell'} by {size} points a month ({ends})"


def _change(facts: Facts, slope: Slope) -> str:
    """`1.1 points less hatch of set (0.4 to 1.8)`, the smaller change first."""
    size, ends, more = _size(facts, slope)
    return f"{size} points {'more' if more else 'less'} {facts.rate} ({ends})"


def _size(facts: Facts, slope: Slope) -> tuple[str, str, bool]:
    """`0.5`, `0.3 to 0.7`, and whether it is more."""
    low, middle, high, _ = _per_step(facts, slope)
    ends = (low, high) if middle > 0 else (-high, -low)
    size, low_words, high_words = _alike(abs(middle), *ends)
    return size, f"{low_words} to {high_words}", middle > 0


def _odds(facts: Facts, slope: Slope) -> str:
    """`As odds: × 0.91 (0.86 to 0.96) for each day of storage, about 1.3 points at 80 %.`"""
    if slope.odds is None:
        return ""
    name, size = _STEPS[facts.by]
    step = slope.odds.per(size)
    odds = facts.mean / max(1 - facts.mean, 1e-9) * step.ratio
    moved = _points(odds / (1 + odds) - facts.mean)
    return f"As odds: × {odds_words(step)} for each {name}, about {moved} at {percent(facts.mean)} %."


def odds_per_step(odds: OddsRatio | None, by: Along) -> str:
    """`0.91 (0.86 to 0.96)` for the step that slopes are told for; "" where there is none."""
    return odds_words(odds.per(_STEPS[by][1])) if odds else ""


def odds_words(odds: OddsRatio) -> str:
    """`0.91 (0.86 to 0.96)`; a third decimal where the interval is narrow."""
    close = odds.high < odds.low * _NARROW
    ratio, low, high = (_factor(value, close=close) for value in (odds.ratio, odds.low, odds.high))
    return f"{ratio} ({low} to {high})"


def _factor(value: float, *, close: bool) -> str:
    if value > _LARGE:
        return f"over {_LARGE:,.0f}"
    if value < 1 / _LARGE:
        return f"under {1 / _LARGE:g}"
    return (
        f"{value:.3f}"
        if close or value < _SMALL
        else f"{value:.0f}"
        if value >= 1 / _SMALL
        else f"{value:.2f}"
    )


def step_of(by: Along) -> float:
    """How much of x a slope is told for."""
    return _STEPS[by][1]


def _left_open(facts: Facts, tests: TrendTests) -> str:
    """One end of what clear eggs leave open calls a trend, the other does not."""
    infertile, dead = (_change(facts, end) for end in tests.ends)
    return (
        f"Clear eggs leave it open: had all {facts.clear:,.0f} been infertile, each {_STEPS[facts.by][0]} "
        f"goes with {infertile}, {_where(facts, tests)}; had all been dead early, with {dead}. "
        "Open clear eggs to decide."
    )


def _none_found(facts: Facts, tests: TrendTests) -> str:
    low, _, high, p_value = _per_step(facts, tests.clustered)
    sizes = zip(_alike(abs(low), abs(high)), (low, high), strict=True)
    low_words, high_words = (f"{size} points {'less' if end < 0 else 'more'}" for size, end in sizes)
    said = (
        f"No sure trend of {facts.rate} with {_NAMES[facts.by]} ({p_words(p_value)}), "
        f"{_where(facts, tests)}: {_may(facts)} anything from {low_words} to {high_words}."
    )
    odds = odds_per_step(tests.clustered.odds, facts.by)
    return f"{said} As odds: × {odds} for each {_STEPS[facts.by][0]}." if odds else said


def _may(facts: Facts) -> str:
    return "a month may have brought" if facts.by == "month" else f"each {_STEPS[facts.by][0]} may go with"


def _where(facts: Facts, tests: TrendTests) -> str:
    if tests.decides == "between_pens":
        return "from pen to pen"
    return "within the same pens" if facts.pens > 1 else "within this pen"


def _per_step(facts: Facts, slope: Slope) -> tuple[float, float, float, float]:
    low, middle, high, p_value = slope.known()
    step = _STEPS[facts.by][1]
    return low * step, middle * step, high * step, p_value


def _points(share: float) -> str:
    """As `points`, with a second decimal where the first alone says little."""
    size = abs(share) * 100
    return points(share) if size >= _LITTLE else f"{size:.2f} points"


def _alike(*shares: float, sign: str = "") -> list[str]:
    """Shares in points, all with as many decimals as the largest of them needs."""
    largest = max(abs(share) for share in shares) * 100
    decimals = 2 if largest < _LITTLE_ALL else 1 if largest < _MUCH else 0
    form = f"{sign}.{decimals}f"
    return [minus(format(share * 100, form)) for share in shares]


def _notes(facts: Facts, tests: TrendTests, slopes: TrendSlopes) -> list[str]:
    return [
        _pens_note(facts, tests),
        _time_note(facts, tests),
        _same_batch_note(facts, tests, slopes),
        _between_note(facts, tests, slopes),
        _bend_note(tests),
        _pooled_note(tests),
        *_missing_notes(facts),
    ]


def _pens_note(facts: Facts, tests: TrendTests) -> str:
    if tests.decides != "between_pens":
        return ""
    name = _NAMES[facts.by]
    name = name[:1].upper() + name[1:]
    return f"{name} never varies within a pen, so whatever else sets these pens apart is in this slope."


def _time_note(facts: Facts, tests: TrendTests) -> str:
    """What goes along with time cannot be told from it."""
    if facts.by == "month":
        others = "Season, the machine's slow drift and the hens' age" if facts.machines else ""
        return f"{others} run along with time; a trend over months cannot tell them apart."
    if facts.by == "hen_age" and facts.of_time > OF_TIME:
        return (
            "All hens are of nearly one age at any time, so hens' age and season cannot be told apart; "
            "pens of younger hens set beside these would tell."
        )
    if facts.by == "hen_age" and tests.decides == "within_pens":
        return (
            "Within a pen hens grow older as the months pass, so a slow change in time is in this slope; "
            "look at the trend by month, and at pens of other ages in the same months."
        )
    if facts.of_time > OF_TIME:
        return (
            f"Nearly all of what {_NAMES[facts.by]} differs by goes with the month of hatch, so season "
            "cannot be told from it."
        )
    return ""


def _same_batch_note(facts: Facts, tests: TrendTests, slopes: TrendSlopes) -> str:
    slope = slopes.same_batch
    if tests.decides != "within_pens" or facts.by in ("hen_age", "month"):
        return ""
    if slope.estimate is None:
        name = _NAMES[facts.by]
        return f"Trays of one batch do not differ in {name}, so what sets batches apart is in this slope."
    low, middle, high, _ = _per_step(facts, slope)
    return (
        f"Among trays of one batch alone, where season and machine are the same: {_range(low, middle, high)}."
    )


def _between_note(facts: Facts, tests: TrendTests, slopes: TrendSlopes) -> str:
    slope = slopes.between_pens
    if tests.decides != "within_pens" or slope.estimate is None:
        return ""
    low, middle, high, _ = _per_step(facts, slope)
    return f"From pen to pen: {_range(low, middle, high)}; that may be the pens and not {_NAMES[facts.by]}."


def _range(low: float, middle: float, high: float) -> str:
    """`−0.47 points (−0.65 to −0.28)`."""
    size, low_words, high_words = _alike(middle, low, high, sign="+")
    return f"{size} points ({low_words} to {high_words})"


def _bend_note(tests: TrendTests) -> str:
    p_value = tests.bend.p_value
    if tests.decides != "within_pens" or p_value is None or p_value >= _ALPHA:
        return ""
    return f"It is not a straight line ({p_words(p_value)}): look at the curve."


def _pooled_note(tests: TrendTests) -> str:
    pooled, decided = tests.independent.p_value, tests.clustered.p_value
    if pooled is None or decided is None or pooled >= _ALPHA or decided < _ALPHA:
        return ""
    return (
        f"As if every egg were independent, there would be a trend ({p_words(pooled)}); but eggs of a tray "
        "and a batch fail together, and pens differ."
    )


def _missing_notes(facts: Facts) -> list[str]:
    notes = []
    if facts.used.left_out and facts.used.trays:
        trays = counted(facts.used.left_out, "tray")
        are = "is" if facts.used.left_out == 1 else "are"
        notes.append(f"{trays} without a record of {_NAMES[facts.by]} {are} left out.")
    if facts.clear >= 0.5:
        eggs = counted(round(facts.clear), "clear egg")
        notes.append(
            f"{eggs} may be infertile or dead before anything showed; a trend is called only if it holds "
            "with all of them the one and with all the other. Were they infertile in some trays and dead "
            "early in others, it could be steeper, or none: only opening them tells."
        )
    if facts.species > 1:
        notes.append(f"{facts.species} species are together here; choose one to see it alone.")
    return notes
