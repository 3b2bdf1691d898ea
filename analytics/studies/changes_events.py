"""From what is written down to dated changes: rows of a pen within three days are one, and so are those of
several pens."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from analytics.store.changes import DatedChange
from analytics.store.changes_dated import DietPeriod
from analytics.studies.changes_records import Event, Kind, Scope
from analytics.studies.wording import listed

CLOSE = timedelta(days=3)
"""Rows that far apart are one change: they cannot be told apart."""
_MALE = re.compile(r"\b(males?|cock(erel)?s?|drakes?|toms?|ganders?|sires?)\b", re.IGNORECASE)
_SCOPES: dict[str, Scope] = {"pen": "pen", "storage": "storage", "incubator": "incubator"}


@dataclass(frozen=True, slots=True)
class _Row:
    """One row, or one boundary of feed periods."""

    day: date
    scope: Scope
    target: str
    what: str
    of_diet: bool


def events_of(
    changes: Sequence[DatedChange],
    diets: Sequence[DietPeriod],
    arrivals: Sequence[tuple[str, date]],
) -> tuple[Event, ...]:
    """The dated changes, by day.

    Args:
        changes: rows of the sheet `changes`, and moved machines.
        diets: feed periods, by pen and day.
        arrivals: pen and first day of males' stays; a change in that pen within three days is a change of
            males, as is one whose words say so.
    """
    rows = [_row(change) for change in changes] + list(_boundaries(diets))
    found: list[Event] = []
    for scope, target in sorted({(row.scope, row.target) for row in rows}):
        own = sorted((row for row in rows if (row.scope, row.target) == (scope, target)), key=_order)
        found += [_event(together, arrivals) for together in _close(own)]
    return tuple(_together(sorted(found, key=lambda event: (event.first_day, event.scope, event.targets))))


def _row(change: DatedChange) -> _Row:
    scope = _SCOPES.get(change.scope, "all")
    target = change.target if scope in ("pen", "incubator") else ""
    return _Row(change.changed_on, scope, target, change.what, of_diet=False)


def _order(row: _Row) -> tuple[date, bool, str]:
    return row.day, row.of_diet, row.what


def _close(rows: Sequence[_Row]) -> list[list[_Row]]:
    """Rows of one target, those within three days of the first together."""
    groups: list[list[_Row]] = []
    for row in rows:
        if groups and row.day - groups[-1][0].day <= CLOSE:
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _event(rows: Sequence[_Row], arrivals: Sequence[tuple[str, date]]) -> Event:
    written = list(dict.fromkeys(row.what for row in rows if not row.of_diet))
    of_diets = list(dict.fromkeys(row.what for row in rows if row.of_diet))
    days = [row.day for row in rows if not row.of_diet] or [row.day for row in rows]
    scope, target = rows[0].scope, rows[0].target
    comes = any(pen == target and abs(day - days[0]) <= CLOSE for pen, day in arrivals)
    return Event(
        first_day=min(days),
        last_day=max(days),
        scope=scope,
        targets=(target,) if target else (),
        what=listed(written or of_diets),
        detail=listed(of_diets) if written else "",
        kind=_kind(scope, listed(written), of_diet=bool(of_diets), comes=comes),
    )


def _kind(scope: Scope, words: str, *, of_diet: bool, comes: bool) -> Kind:
    if scope == "incubator":
        return "machine"
    if scope == "storage":
        return "storage"
    if scope == "pen" and (comes or _MALE.search(words)):
        return "male"
    return "diet" if of_diet else "other"


def _together(events: Sequence[Event]) -> list[Event]:
    """The same change of several pens, or machines, within three days as one."""
    found: list[Event] = []
    for event in events:
        same = next((place for place, one in enumerate(found) if _alike(one, event)), None)
        if same is None:
            found.append(event)
        else:
            found[same] = _added(found[same], event)
    return sorted(found, key=lambda event: (event.first_day, event.scope, event.targets))


def _alike(one: Event, other: Event) -> bool:
    return (
        one.scope == other.scope
        and bool(one.targets) == bool(other.targets)
        and (one.what.casefold(), one.detail.casefold()) == (other.what.casefold(), other.detail.casefold())
        and abs(other.first_day - one.first_day) <= CLOSE
    )


def _added(one: Event, other: Event) -> Event:
    return replace(
        one,
        first_day=min(one.first_day, other.first_day),
        last_day=max(one.last_day, other.last_day),
        targets=tuple(sorted({*one.targets, *other.targets})),
        kind="male" if "male" in (one.kind, other.kind) else one.kind,
    )


def _boundaries(diets: Sequence[DietPeriod]) -> Iterator[_Row]:
    """Days on which a pen's feed became another; a first period only where it brought a supplement."""
    for pen in dict.fromkeys(period.pen for period in diets):
        periods = [period for period in diets if period.pen == pen]
        first, last = periods[0], periods[-1]
        if first.supplement:
            yield _Row(first.first_day, "pen", pen, f"{first.supplement} begun", of_diet=True)
        for before, after in pairwise(periods):
            if words := _difference(before, after):
                yield _Row(after.first_day, "pen", pen, words, of_diet=True)
        if last.supplement and last.last_day:
            ended = last.last_day + timedelta(days=1)
            yield _Row(ended, "pen", pen, f"{last.supplement} ended", of_diet=True)


def _difference(before: DietPeriod, after: DietPeriod) -> str:
    """What sets a feed period apart from the one before, in words; "" where nothing does."""
    said = []
    if before.supplement.casefold() != after.supplement.casefold():
        said += [f"{before.supplement} ended"] if before.supplement else []
        said += [f"{after.supplement} begun"] if after.supplement else []
    if before.feed.casefold() != after.feed.casefold():
        said.append(f"feed {before.feed or 'not written'} to {after.feed or 'not written'}")
    for name, old, new in (
        ("calcium", before.calcium_pct, after.calcium_pct),
        ("protein", before.protein_pct, after.protein_pct),
    ):
        if old is not None and new is not None and old != new:
            said.append(f"{name} {old:g} to {new:g} %")
    return listed(said)
