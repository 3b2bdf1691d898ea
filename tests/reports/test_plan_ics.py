"""The calendar file by the letter of RFC 5545, and read back."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from pathlib import Path

from icalendar import Calendar

from analytics.reports.plan_ics import calendar_of
from analytics.studies.plan_dates import plan_dates

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
ANSWER = plan_dates(
    Path("nowhere"), date(2026, 12, 29), ["coturnix_quail", "muscovy_duck"], 'Nord; "Öl, 2"', 7.0
)


def test_every_line_is_folded_and_ends_in_crlf() -> None:
    """RFC 5545, 3.1: lines of at most 75 octets, CRLF, folded by CRLF and one blank; 3.6.1: UID, DTSTAMP."""
    raw = calendar_of(ANSWER, NOW)
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")[:-1]
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    unfolded = raw.replace(b"\r\n ", b"").decode()
    assert unfolded.startswith("BEGIN:VCALENDAR\r\n")
    for name in ("VERSION:2.0", "PRODID:"):
        assert unfolded.count(f"\r\n{name}") == 1
    events = unfolded.split("BEGIN:VEVENT")[1:]
    for event in events:
        for name in (
            "UID:",
            "DTSTAMP:20261125T180000Z",
            "DTSTART;VALUE=DATE:",
            "DTEND;VALUE=DATE:",
            "SUMMARY:",
        ):
            assert event.count(f"\r\n{name}") == 1
    assert r"(Nord\; " in unfolded  # 3.3.11: semicolon and comma in text are escaped
    assert r"Öl\, 2" in unfolded
    assert not re.search(r"(?<!\\)[;,]", "".join(re.findall(r"\r\nSUMMARY:(.*)", unfolded)))


def test_read_back_it_holds_the_days() -> None:
    calendar = Calendar.from_ical(calendar_of(ANSWER, NOW))
    events = {str(event["SUMMARY"]): event for event in calendar.walk("VEVENT")}
    assert len(events) == 1 + 2 * 3
    where = ' (Nord; "Öl, 2")'
    quail, duck = ANSWER.species
    hatch = events[f"Hatch: Muscovy duck{where}"]
    assert hatch.decoded("dtstart") == duck.hatch.first
    assert duck.hatch.last
    assert (hatch.decoded("dtend") - duck.hatch.last).days == 1  # the first day after
    assert (
        events[f"Candle Coturnix quail{where}"].decoded("dtstart") == quail.candle.first == date(2027, 1, 3)
    )
    assert str(events[f"Set Coturnix quail, Muscovy duck{where}"]["DESCRIPTION"]).startswith(
        "Set on 29 December 2026"
    )
    assert len({str(event["UID"]) for event in events.values()}) == len(events)


def test_the_same_plan_keeps_its_uids() -> None:
    first, again = (
        [str(event["UID"]) for event in Calendar.from_ical(calendar_of(ANSWER, at)).walk("VEVENT")]
        for at in (NOW, datetime(2026, 11, 26, tzinfo=UTC))
    )
    assert first == again
