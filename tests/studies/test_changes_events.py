"""From rows to changes: what is one change, what kind it is, and how feed periods are read."""

from __future__ import annotations

from datetime import date

from analytics.store.changes import DatedChange
from analytics.store.changes_dated import DietPeriod
from analytics.studies.changes_events import events_of
from analytics.studies.changes_records import Event

DAY = date(2026, 3, 10)


def _row(target: str, what: str = "calcium supplement", day: date = DAY, scope: str = "pen") -> DatedChange:
    return DatedChange(day, scope, target, what)


def _diet(
    pen: str, first: date, last: date | None = None, supplement: str = "", calcium: float = 2.5
) -> DietPeriod:
    return DietPeriod(pen, first, last, "crumble", supplement, calcium, 20.0)


def _events(
    *rows: DatedChange, diets: tuple[DietPeriod, ...] = (), arrivals: tuple = ()
) -> tuple[Event, ...]:
    return events_of(rows, diets, arrivals)


def test_the_same_within_three_days_is_one_change_of_several_pens() -> None:
    near, far = date(2026, 3, 13), date(2026, 3, 14)
    (one,) = _events(_row("Rowan"), _row("Larch", "Calcium supplement", near))
    assert (one.first_day, one.last_day, one.targets) == (DAY, near, ("Larch", "Rowan"))
    assert [event.targets for event in _events(_row("Rowan"), _row("Larch", day=far))] == [
        ("Rowan",),
        ("Larch",),
    ]
    assert len(_events(_row("Rowan"), _row("Larch", "grit"))) == 2
    assert len(_events(_row("Rowan"), _row("North", scope="incubator"))) == 2


def test_a_row_and_a_feed_period_of_one_pen_are_one_change() -> None:
    diets = (
        _diet("Rowan", date(2026, 1, 1), date(2026, 3, 10)),
        _diet("Rowan", date(2026, 3, 11), None, "oyster shell", 3.9),
    )
    (one,) = _events(_row("Rowan"), diets=diets)
    assert (one.first_day, one.last_day) == (DAY, DAY), "the day that the keeper wrote down"
    assert (one.what, one.kind) == ("calcium supplement", "diet")
    assert one.detail == "oyster shell begun and calcium 2.5 to 3.9 %"
    (alone,) = _events(diets=diets)
    assert (alone.first_day, alone.what, alone.detail) == (date(2026, 3, 11), one.detail, "")


def test_feed_periods_without_a_difference_are_no_change() -> None:
    assert not _events(diets=(_diet("Rowan", date(2026, 1, 1), DAY), _diet("Rowan", date(2026, 3, 11))))
    assert not _events(diets=(_diet("Rowan", date(2026, 1, 1)),)), "a first period says nothing of before"


def test_a_supplement_alone_has_a_beginning_and_an_end() -> None:
    begun, ended = _events(diets=(_diet("Rowan", DAY, date(2026, 5, 31), "oyster shell"),))
    assert (begun.first_day, begun.what) == (DAY, "oyster shell begun")
    assert (ended.first_day, ended.what) == (date(2026, 6, 1), "oyster shell ended")


def test_kinds() -> None:
    kinds = {
        one.what: one.kind
        for one in _events(
            _row("Rowan", "New cockerel"),
            _row("Larch", "young blood", date(2026, 5, 1)),
            _row("Birch", "tomato plants", date(2026, 6, 1)),
            _row("North", "thermostat", scope="incubator"),
            _row("", "cellar", scope="storage"),
            _row("", "lamps", scope="all"),
            arrivals=(("Larch", date(2026, 5, 3)), ("Birch", date(2026, 6, 5))),
        )
    }
    assert kinds == {
        "New cockerel": "male",
        "young blood": "male",
        "tomato plants": "other",
        "thermostat": "machine",
        "cellar": "storage",
        "lamps": "other",
    }


def test_what_touches_everything_has_no_targets() -> None:
    storage, everywhere, all_pens = _events(
        _row("shed", "cellar", scope="storage"),
        _row("", "lamps", date(2026, 4, 1), scope="all"),
        _row("", "grit", date(2026, 5, 1)),
    )
    assert storage.targets == everywhere.targets == all_pens.targets == ()
