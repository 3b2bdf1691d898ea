"""Changes in sentences: what moved and by how much, or why it cannot be told."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from analytics.changes.verdict import ALPHA
from analytics.comparisons.slope_records import OddsRatio
from analytics.reference.fertile_period import fertile_period
from analytics.reference.sources import source_table
from analytics.studies.changes_records import ChangeAnswer, Compared, Event, MadeUp, StepAnswer
from analytics.studies.wording import counted, listed, long_day, minus, month_name, species_words
from analytics.values import Month

LOSSES = {
    "fertile": "infertile eggs",
    "early": "early losses",
    "mid": "losses in the middle",
    "late": "late losses",
    "shell": "losses in the shell",
    "hatch": "eggs that did not hatch",
}
"""Step -> what does not pass it."""
STEP_NAMES = {
    "fertile": "fertile",
    "early": "past early",
    "mid": "past the middle",
    "late": "past late",
    "shell": "out of the shell",
    "hatch": "hatched",
}
"""Step -> what an egg that passed it is."""
VERDICTS: dict[str, str] = {
    "better": "better",
    "worse": "worse",
    "no_clear_change": "no clear change",
    "cannot_tell": "cannot tell",
}
_FAR = 75
"""Days between a change and the month in which the gap opened from which the two are said to disagree."""
_TENTHS = 9.95
LAG = (
    "What is changed in a pen shows about four weeks later, when its eggs have hatched. So eggs are told "
    "apart by the days on which they were laid, and for a machine by the days in it."
)


def worded(event: Event, compared: Compared, steps: Sequence[StepAnswer]) -> ChangeAnswer:
    """The change with its sentence and notes."""
    return ChangeAnswer(
        event, compared, tuple(steps), _sentence(event, compared, steps), _notes(event, compared, steps)
    )


def title(event: Event) -> str:
    """`Calcium supplement from 1 October 2025 in Larch and Rowan`."""
    return f"{_upper(event.what)} from {long_day(event.first_day)}{_where(event)}"


def _where(event: Event) -> str:
    if event.targets:
        return f" in {listed(event.targets)}"
    return {"storage": " for all eggs in store", "incubator": " in all machines"}.get(
        event.scope, " everywhere"
    )


def _sentence(event: Event, compared: Compared, steps: Sequence[StepAnswer]) -> str:
    if compared.why:
        return f"{title(event)}: cannot be told. {compared.why}"
    clear = [step for step in steps if step.verdict in ("better", "worse")]
    if clear:
        return (
            f"{title(event)}: {listed([moved_words(step) for step in clear])}, {_against(event, compared)}."
        )
    open_steps = [step for step in steps if step.verdict == "cannot_tell" and step.effect.p_value is not None]
    if not any(step.verdict == "no_clear_change" for step in steps):
        return f"{title(event)}: cannot be told. {_why_none(steps)}"
    but = f" Of {listed([LOSSES[step.step] for step in open_steps])} too few eggs tell." if open_steps else ""
    return f"{title(event)}: no clear change, {_against(event, compared)}.{but}"


def _why_none(steps: Sequence[StepAnswer]) -> str:
    return next((step.judged.why for step in steps if step.judged.why), "There are too few eggs.")


def _against(event: Event, compared: Compared) -> str:
    """`against three pens without it`."""
    return f"against {counted(len(compared.controls), unit_name(event))} without it"


def unit_name(event: Event) -> str:
    """pen or machine."""
    return "machine" if event.scope == "incubator" else "pen"


def moved_words(step: StepAnswer) -> str:
    """`late losses rose by 6.0 points, 1.2 to 10.8`."""
    low, difference, high, _ = step.effect.known()
    ends = sorted((abs(low), abs(high)))
    verb = "rose" if difference < 0 else "fell"
    places = 0 if abs(difference) * 100 >= _TENTHS else 1
    size, least, most = (f"{abs(value) * 100:.{places}f}" for value in (difference, *ends))
    return f"{LOSSES[step.step]} {verb} by {size} points, {least} to {most}"


def points_cell(share: float | None) -> str:
    """A difference in points, signed; "" where there is none."""
    if share is None:
        return ""
    return minus(f"{share * 100:+.1f}")


def points_range(low: float | None, high: float | None) -> str:
    """`−10.8 to −1.2`; "" where there is none."""
    return f"{points_cell(low)} to {points_cell(high)}" if low is not None and high is not None else ""


def odds_words(odds: OddsRatio | None) -> str:
    """`0.21 (0.11 to 0.37)`; "" where there is none."""
    if odds is None:
        return ""
    return f"{_factor(odds.ratio)} ({_factor(odds.low)} to {_factor(odds.high)})"


def _factor(value: float) -> str:
    return f"{value:.2f}" if value < _TENTHS else f"{value:.0f}"


def _hints(steps: Sequence[StepAnswer], tested: int) -> list[str]:
    """Steps that would be called had they been the only one."""
    return [
        f"{_upper(moved_words(step))}: no more than a hint, for {tested} steps were tested."
        for step in steps
        if step.verdict in ("no_clear_change", "cannot_tell")
        and step.effect.p_value is not None
        and step.effect.p_value < ALPHA
        and (step.judged.p_adjusted or 0.0) >= ALPHA
    ]


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def hangs_on(event: Event, label: str) -> str:
    """Why a step is not called that would be but for one untouched pen."""
    one = unit_name(event)
    return f"It hangs on one untouched {one}, {label}: without it half or less is left, and not clear."


def _hanging(steps: Sequence[StepAnswer]) -> list[str]:
    return [
        f"{_upper(moved_words(step))}: not called. {step.judged.why}"
        for step in steps
        if step.verdict == "no_clear_change" and step.judged.why
    ]


def _notes(event: Event, compared: Compared, steps: Sequence[StepAnswer]) -> tuple[str, ...]:
    notes = [compared.settle] if compared.settle else []
    if compared.left_trays:
        notes.append(_left_words(event, compared))
    if compared.undated_trays:
        trays = counted(compared.undated_trays, "tray")
        notes.append(f"{trays} without days of lay or of storage could not be placed.")
    if not compared.why:
        notes += _alone_words(event, compared)
        notes += _hints(steps, sum(step.effect.p_value is not None for step in steps))
        notes += _hanging(steps)
        notes += _opened_words(event, steps)
    return tuple(notes)


def _alone_words(event: Event, compared: Compared) -> list[str]:
    """What one pen, or one machine, on a side leaves open."""
    notes = []
    if len(event.targets) == 1:
        only = event.targets[0]
        notes.append(f"Only {only} was changed: whatever else came to it at that time looks the same.")
    if len(compared.controls) == 1:
        what, only = unit_name(event), compared.controls[0]
        notes.append(f"Only one {what} was left as it was, {only}: what came to it alone looks the same.")
    return notes


def _left_words(event: Event, compared: Compared) -> str:
    trays, eggs = counted(compared.left_trays, "tray"), counted(round(compared.left_eggs), "egg")
    if event.scope == "incubator":
        return f"{trays} with {eggs} lay in a machine on that day and are left out."
    if event.lag_days:
        return (
            f"{trays} with {eggs} are left out: laid across that day, or within {event.lag_days} days after "
            "it, when the male before may still be the sire."
        )
    return f"{trays} with {eggs} were laid across that day and are left out."


def _opened_words(event: Event, steps: Sequence[StepAnswer]) -> list[str]:
    """Where a gap opened, and whether that fits the date."""
    notes = []
    for step in steps:
        if step.opened is None:
            continue
        month = month_name(Month(step.opened.year, step.opened.month))
        fits = abs((step.opened - _month_of(event.last_day)).days) <= _FAR
        said = "" if fits else ", not at that date: that speaks for another cause"
        notes.append(f"The gap in {LOSSES[step.step]} opens most in {month}{said}.")
    return notes


def _month_of(day: date) -> date:
    return day.replace(day=1)


def whole_sentence(answers: Sequence[ChangeAnswer]) -> str:
    """How many changes did what."""
    worse, better = (sum(bool(one.with_verdict(what)) for one in answers) for what in ("worse", "better"))
    open_ = sum(not one.with_verdict("better", "worse", "no_clear_change") for one in answers)
    same = sum(
        bool(one.with_verdict("no_clear_change")) and not one.with_verdict("better", "worse")
        for one in answers
    )
    parts = [
        f"{number} {words}"
        for number, words in (
            (worse, "made something worse"),
            (better, "made something better"),
            (same, "shows no clear change" if same == 1 else "show no clear change"),
            (open_, "cannot be told"),
        )
        if number
    ]
    return f"Of {counted(len(answers), 'dated change')}, {listed(parts)}."


def whole_notes(made_up: MadeUp, steps: Sequence[str], birds: Sequence[str]) -> tuple[str, ...]:
    """What holds for all of them; `birds`: species in which males were changed."""
    tests = (
        f"Each change is tested at up to {len(steps)} steps. A step is called only where its p, with the "
        "number of steps allowed for (Holm), is under 0.05."
    )
    return made_up_words(made_up), LAG, tests, *(_sire_words(bird) for bird in birds)


def _sire_words(bird: str) -> str:
    """How long the sire is open after a change of males, and by whom."""
    period = fertile_period(bird)
    source = source_table()[period.source_id]
    return (
        f"After a change of males the eggs of {period.days} days may still be the old male's "
        f"({species_words(bird)}; {source.author}{f' {source.year}' if source.year else ''}: {period.note})."
    )


def made_up_words(made_up: MadeUp) -> str:
    """`On 20 made-up dates the same test cried wolf in 1.`"""
    if not made_up.dates:
        return "The records are too short to try the test on made-up dates."
    dates = counted(made_up.dates, "made-up date")
    cried = (
        "never cried wolf"
        if not made_up.cried
        else f"cried wolf on {made_up.cried}: {listed([_called(one) for one in made_up.called])}"
    )
    return (
        f"On {dates} the same test {cried}. By chance 1 in 20 would, and what truly happened then counts too."
    )


def _called(one: tuple[str, date, str]) -> str:
    pen, day, step = one
    return f"{pen}, {long_day(day)} ({LOSSES[step]})"
