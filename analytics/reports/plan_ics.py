"""The days of a plan as a calendar file: RFC 5545, whole days."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from icalendar import Calendar, Event

from analytics import __version__
from analytics.studies.plan_records import DatesAnswer


def calendar_of(answer: DatesAnswer, now: datetime) -> bytes:
    """The file, lines folded and ended by CRLF; the same plan has the same UIDs, so it replaces itself.

    Args:
        answer: the days.
        now: when the file is made, UTC.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//penwise//plan {__version__}//EN")
    calendar.add("version", "2.0")
    for name, days, about in _days(answer):
        calendar.add_component(_event(answer, name, days, about, now))
    return bytes(calendar.to_ical())


def _days(answer: DatesAnswer) -> Iterator[tuple[str, tuple[date, date], str]]:
    names = ", ".join(one.name for one in answer.species)
    about = "\n".join((answer.sentence, *answer.warnings))
    yield f"Set {names}", (answer.set_on, answer.set_on), about
    for one in answer.species:
        for what, days in (("Candle", one.candle), ("To the hatcher:", one.transfer), ("Hatch:", one.hatch)):
            if days.first and days.last:
                yield f"{what} {one.name}", (days.first, days.last), f"Published: {days.source}."


def _event(answer: DatesAnswer, name: str, days: tuple[date, date], about: str, now: datetime) -> Event:
    where = f" ({answer.machine})" if answer.machine else ""
    event = Event()
    event.add("uid", _uid(answer, name))
    event.add("dtstamp", now)
    event.add("dtstart", days[0])
    event.add("dtend", days[1] + timedelta(days=1))  # the first day after, as RFC 5545 has it
    event.add("summary", name + where)
    event.add("description", about)
    event.add("transp", "TRANSPARENT")
    return event


def _uid(answer: DatesAnswer, name: str) -> str:
    """The same for the same step of the same batch."""
    whole = "|".join((name, answer.set_on.isoformat(), answer.machine.strip().casefold()))
    return f"{hashlib.sha256(whole.encode()).hexdigest()[:32]}@penwise"
