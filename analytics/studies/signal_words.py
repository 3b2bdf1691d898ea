"""The watch in words: what a signal is, what it is not, and what could not have been seen."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.monitoring.records import Kind
from analytics.monitoring.watch import FEWEST_WORTH
from analytics.studies.signal_records import Point, Signal, TenPoints, Watched
from analytics.studies.wording import MEASURE_NAMES, counted, listed, month_name, percent, species_words
from analytics.values import Base, Month

BASES: dict[str, Base] = {
    "fertility": Base.OF_LADDER,
    "early_loss": Base.OF_FERTILE,
    "mid_loss": Base.OF_ENTERING,
    "late_loss": Base.OF_ENTERING,
    "shell_loss": Base.OF_ENTERING,
    "hatch_of_fertile": Base.OF_FERTILE,
    "hatch_of_set": Base.OF_SET,
}
"""What the watched share of each step is a share of."""
NO_BASELINE = (
    "No month can be a signal yet: that needs three months of hatches and one more month before this one."
)
NOTHING = "No pen and no machine left its limits this month."
NOT_WHY = "A signal says that more than chance is behind it, not what: Losses and Pens weigh the causes."

FOUND = {(0.02, 5): 0.94, (0.02, 12): 0.91, (0.05, 5): 0.85, (0.05, 12): 0.78}
"""Pens called within two months after a fall of ten points, by likeness and pens, as simulated."""
MOST = {5: 0.95, 12: 0.88}
"""The most that limits on months' sums could call at a likeness of .05, likewise."""

SMALLEST = "The smallest worsening, in points, that two months like this one would show in nine of ten cases:"


def unit_words(kind: Kind, label: str, species: str) -> str:
    """`Pen Hazel`, `Machine Slate`, `All pens together`; machines with the species whose eggs are meant."""
    if kind == "flock":
        return f"All {species_words(species)} pens together"
    return f"{kind.capitalize()} {label}" + (f" ({species_words(species)})" if kind == "machine" else "")


def sentence(
    kind: Kind,
    label: str,
    measure: str,
    species: str,
    known: bool,
    since: Month,
    worse: bool,
    chart: str,
    points: Sequence[Point],
) -> str:
    """One signal in words."""
    now = points[-1]
    assert now.rate is not None
    who, what = unit_words(kind, label, species), MEASURE_NAMES[measure].lower()
    said = f"{who}: {what} {percent(now.rate)} % of {round(now.eggs):,} {_base(measure)}"
    if now.expected is None or now.low is None or now.high is None:
        return f"{said}, known since {month_name(since)}."
    said += f", where {percent(now.expected)} % is usual"
    if known:
        return f"{said}; known since {month_name(since)}."
    low_side = worse != measure.endswith("_loss")
    edge = now.low if low_side else now.high
    beyond = f"; {'below' if low_side else 'above'} {percent(edge)} % is more than chance"
    if chart == "average":
        return f"{said}; with the month before, that is more than chance."
    if percent(edge) == percent(now.rate):
        return f"{said}; that is just more than chance."
    return f"{said}{beyond}."


def _base(measure: str) -> str:
    return {
        Base.OF_LADDER: "eggs set and not cracked",
        Base.OF_FERTILE: "fertile eggs",
        Base.OF_ENTERING: "eggs that came as far",
        Base.OF_SET: "eggs set",
    }[BASES[measure]]  # fmt: skip


def lines(
    signals: Sequence[Signal], seen: Sequence[Watched], charts: int, needed: Sequence[TenPoints] = ()
) -> tuple[str, ...]:
    """The answer: how many signals, each of them, what they are not, and what would not have shown."""
    if not charts:
        return (NO_BASELINE,)
    new, known = ([one for one in signals if one.known is which] for which in (False, True))
    unseen = (*_too_few(seen), *(_ten_points(one, len(needed) > 1) for one in needed))
    if not signals:
        return (NOTHING, *unseen)
    first = [counted(len(new), "new signal") if new else "No new signal"]
    first += [f"{len(known)} known from before"] if known else []
    return (f"{', '.join(first)}.", *(one.sentence for one in signals), NOT_WHY, *unseen)


def _too_few(seen: Sequence[Watched]) -> tuple[str, ...]:
    """Pens whose first step could not give a signal."""
    if not seen:
        return ()
    first = seen[0].measure
    small = [one for one in seen if one.kind == "pen" and one.measure == first and not one.possible]
    if not small:
        return ()
    pens = "pen" if len(small) == 1 else "pens"
    named = listed([f"{one.label} ({_needed(one)})" for one in small])
    return (f"Too few eggs for a signal in {_name(first)} this month: {pens} {named}.",)


def _ten_points(one: TenPoints, of_several: bool) -> str:
    """What a fall of ten points would take in this flock."""
    of = f"{species_words(one.species).capitalize()}: a" if of_several else "A"
    fall = f"{of} fall of 10 points in {_name(one.measure)} shows within two months in nine of ten pens"
    alike = f"eggs of one tray fail together here (correlation {one.likeness:.2f})"
    if one.eggs is None:
        return f"{fall} that set more than 2,000 eggs a month: {alike}."
    few, most = round(one.fewest), round(one.most)
    set_now = f"pens set {few:,} to {most:,}" if few < most else f"a pen set {few:,}"
    return f"{fall} that set about {one.eggs:,.0f} eggs a month: {alike}. This month {set_now}."


def _needed(one: Watched) -> str:
    if one.smallest is None:
        return "no change would have shown"
    return f"{percent(one.smallest)} points would have been needed"


def _name(measure: str) -> str:
    return MEASURE_NAMES[measure].lower()


def seen_rows(seen: Sequence[Watched]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """What would have shown, as a table: a heading, and a row for every unit with eggs in the month.

    The cells are points of the step's own rate; `none` where not even the worst would show.
    """
    measures = [word for word in MEASURE_NAMES if any(one.measure == word for one in seen)]
    units = list(dict.fromkeys((one.kind, one.label, one.species) for one in seen))
    by_place = {(one.kind, one.label, one.species, one.measure): one for one in seen}
    rows = []
    for unit in units:
        cells = [by_place.get((*unit, measure)) for measure in measures]
        eggs = next((one.eggs for one in cells if one), 0.0)
        rows.append((unit_words(*unit), f"{round(eggs):,}", *(_smallest(one) for one in cells)))
    return ("", "eggs", *(MEASURE_NAMES[measure].lower() for measure in measures)), rows


def _smallest(one: Watched | None) -> str:
    """`12`, or that nothing would show."""
    if one is None:
        return "–"
    return percent(one.smallest) if one.smallest is not None else "none"


def how(seen: Sequence[Watched], charts: int, base: tuple[Month, Month] | None) -> tuple[str, ...]:
    """How the watch works, its false alarms and its limits."""
    if base is None:
        return (NO_BASELINE,)
    first, last = (month_name(month) for month in base)
    return (
        f"{counted(charts, 'chart')} could signal this month: the flock, machines and pens, step by step.",
        "Limits are set so that a farm where nothing changes gets at most one false signal in twelve reviews"
        " (simulated), all its charts taken together. The more of them are watched, the wider the limits.",
        f"Usual is what the months {first} to {last} let expect in the machines of this month. Months of a"
        " signal are left out of them; a signal that lasts a year becomes the new usual.",
        "Each month is looked at alone, and averaged with the month before (the newest counts 56 %). A pen's"
        " fertility is held to the average first: its month alone must lie a fifth farther out.",
        "Limits allow for eggs of a tray and of a batch failing together, and for how far apart months lie.",
        *_power(),
        "What lies farthest out is named first and taken off the others: a machine's bad month is not said"
        " of every pen in it.",
        f"A month is not watched where its eggs tell less than {FEWEST_WORTH:.0f} independent ones would.",
        "Clear eggs that nobody told apart may be infertile or dead early: a signal holds either way.",
        "Season and the hens' age are not taken out of what is usual: a slow change is called once it is far"
        " enough.",
        *_newcomers(seen),
    )


def _power() -> tuple[str, str]:
    """What a fall of ten points comes to in simulated farms, and what more eggs alone would change."""
    low, high = ((f"{percent(FOUND[r, 5])} %", f"{percent(FOUND[r, 12])} %") for r in (0.02, 0.05))
    return (
        "Simulated: in pens that set 8 trays of 20 a month, after a year of records, a fall of 10 points in"
        f" fertility shows within two months in {low[0]} of farms of 5 pens and {low[1]} of farms of 12 where"
        f" eggs of a tray are correlated by 0.02; in {high[0]} and {high[1]} where by 0.05.",
        "No limits find many more at 0.05: such as knew each pen's usual rate, and spent all false signals"
        f" on fertility, would find {percent(MOST[5])} % and {percent(MOST[12])} %.",
    )


def _newcomers(seen: Sequence[Watched]) -> tuple[str, ...]:
    """Pens without a month of their own in the baseline."""
    new = list(dict.fromkeys(one.label for one in seen if one.kind == "pen" and not one.own_months))
    if not new:
        return ()
    if len(new) == 1:
        return (f"Pen {new[0]} has no months before yet: it is held against the flock, with wider limits.",)
    return (
        f"Pens {listed(new)} have no months before yet: they are held against the flock, with wider limits.",
    )
