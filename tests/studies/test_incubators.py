"""What about each machine: the demo's drifting thermostat with its months, and stores that say why not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.errors import DataTooThin, WrongUsage
from analytics.incubation.machine_air import LEAST_C
from analytics.options import Selection
from analytics.reference.signs import causes_of
from analytics.reports.incubators_json import incubators_values
from analytics.reports.incubators_text import incubators_text
from analytics.studies import incubators_rivals as rivals
from analytics.studies.incubators import incubators
from analytics.studies.incubators_records import Drift, Incubators, MachineAnswer
from analytics.values import Period
from seed_demo.build import build_demo
from seed_demo.world import PLANTED

Make = Callable[..., Path]
HEAT = next(one for one in PLANTED if one.step == "temperature")
HOURS = next(one for one in PLANTED if one.kind == "thermostat" and one.step == "timing")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("incubators") / "demo.duckdb"
    build_demo(made)
    return made


@pytest.fixture(scope="module")
def found(demo: Path) -> Incubators:
    return incubators(demo, Selection())


def _machine(found: Incubators, name: str) -> MachineAnswer:
    return next(one for one in found.machines if one.incubator == name)


def _drift(machine: MachineAnswer, what: str) -> Drift:
    (one,) = [drift for drift in machine.drift if drift.what == what]
    return one


def test_the_thermostat_is_found_with_its_months_and_size(found: Incubators) -> None:
    slate = _machine(found, HEAT.level)
    hours, air, display = (_drift(slate, what) for what in ("hours", "temperature", "display"))
    assert HEAT.start
    assert HEAT.end
    assert abs((hours.first_day - HEAT.start).days) <= 31
    assert abs((hours.last_day - HEAT.end).days) <= 31
    assert hours.low <= HOURS.size <= hours.high < 0
    assert hours.offset is not None
    assert LEAST_C < hours.offset.warmth_interval.low < HEAT.size < hours.offset.warmth_interval.high
    assert hours.verdict == "machine"
    assert abs((air.first_day - HEAT.start).days) <= 7
    assert abs((air.last_day - HEAT.end).days) <= 7
    assert air.size == pytest.approx(HEAT.size, abs=0.1)
    assert air.offset is not None
    assert air.offset.interval.high < 0
    assert display.low <= -HEAT.size <= display.high
    assert "early" in slate.sentence
    assert "February to March 2026" in slate.sentence
    assert "your other machines did not" in slate.sentence


def test_machines_without_a_drift_have_no_months(found: Incubators) -> None:
    assert {one.incubator for one in found.machines if one.drift} == {HEAT.level}


def test_the_late_machine_is_late_and_rivals_stand_before_cool(found: Incubators) -> None:
    """Chalk is planted 5 h late beside Flint and half an hour more beside Slate."""
    (timing,) = _machine(found, "Chalk").timings
    assert timing.own is not None
    assert timing.own.interval.low <= 5.25 <= timing.own.interval.high
    told = {one.cause: one.says for one in timing.rivals}
    assert told[rivals.STORED] == "against"
    assert told[rivals.COLD] == "not_recorded"
    assert told[rivals.HIGH] == "not_recorded"
    sentence = _machine(found, "Chalk").sentence
    assert sentence.index("cannot rule out pens that hatch late") < sentence.index("cool, 0.")
    assert "Maple" in next(one.sentence for one in timing.rivals if one.cause.startswith("pens"))
    assert timing.own.is_borrowed


def test_a_machine_far_off_is_no_yardstick_for_the_others(found: Incubators) -> None:
    flint = _machine(found, "Flint").timings[0]
    assert flint.left_out == ("Chalk",)
    assert flint.own is not None
    assert flint.own.interval.low < 0 < flint.own.interval.high


def test_water_display_and_air_of_the_demo(found: Incubators) -> None:
    """Planted: 11.2, 10.4, 9.2 % by transfer, .9 points less in some pens' shells; 37.6 °C; 49 + 14 % RH."""
    losses = {one.incubator: one.water[0].found for one in found.machines}
    assert [losses[name].loss for name in ("Flint", "Slate", "Chalk")] == [  # type: ignore[union-attr]
        pytest.approx(0.108, abs=0.004), pytest.approx(0.100, abs=0.004), pytest.approx(0.089, abs=0.004),
    ]  # fmt: skip
    flint = _machine(found, "Flint")
    assert flint.climate.mean_c == pytest.approx(37.6, abs=0.02)
    assert flint.climate.hatcher_rh == pytest.approx(63, abs=0.5)
    assert flint.display.temperature is not None
    assert flint.display.temperature.offset == pytest.approx(0, abs=0.05)
    chalk = _machine(found, "Chalk")
    assert chalk.climate.why
    assert chalk.display.why


def test_filters_choose_what_is_shown_and_not_what_is_compared(demo: Path) -> None:
    months = Selection(period=Period(date(2026, 2, 18), date(2026, 4, 10)), incubators=("slate",))
    (slate,) = incubators(demo, months).machines
    assert slate.timings[0].own is not None
    assert slate.timings[0].own.interval.high < -3
    with pytest.raises(WrongUsage):
        incubators(demo, Selection(incubators=("Nobody",)))


def test_text_and_json_say_the_same(found: Incubators) -> None:
    text = " ".join(incubators_text(found).split())
    values = incubators_values(found)
    for machine in values["machines"]:
        assert machine["sentence"] in text
        for water in machine["water"]:
            assert water["sentence"] in text
    assert "common practice, no source" in text.lower()


def _trays(names: tuple[str, ...]) -> list[dict[str, Any]]:
    return [
        {"batch": f"{name} {month}", "tray": "1", "pen": "A", "eggs_set": 30, "hatched": 24, "infertile": 6}
        for name in names
        for month in range(1, 10)
    ]


def _store(make: Make, machines: int = 1, **more: Any) -> Path:
    """Batches of one pen, one a machine and month, without counts, logger, checks or weights."""
    names = ("North", "South", "East")[:machines]
    sheets: dict[str, Any] = {
        "pens": [{"pen": "A", "species": "coturnix_quail"}],
        "incubators": [{"incubator": name} for name in names],
        "batches": [
            {"batch": f"{name} {month}", "incubator": name, "set_on": f"2026-{month:02}-01T18:00",
             "transfer_on": f"2026-{month:02}-16T08:00", "pulled_on": f"2026-{month:02}-19T18:00"}
            for name in names for month in range(1, 10)
        ],
        "trays": _trays(names),
    }  # fmt: skip
    return make(**(sheets | more))


def test_nothing_but_batches_is_said_in_sentences(store_of: Make) -> None:
    found = incubators(_store(store_of), Selection())
    (north,) = found.machines
    assert north.sentence == "North: No hatch of this machine was counted with its hours."
    assert north.climate.why.startswith("No logger reading of North while eggs were in")
    assert "how far its display is off is not known" in north.display.why
    assert (north.water, north.drift, north.climate.mean_c) == ((), (), None)
    assert incubators_values(found)["machines"][0]["timing"]["why"]
    assert "No tray of North was weighed." in incubators_text(found)


def _counts(machines: tuple[str, ...], hours_off: dict[str, int]) -> list[dict[str, Any]]:
    """Three counts a batch around 16 to 17 days; a machine's are moved by whole days."""
    made = []
    for name in machines:
        for month in range(1, 10):
            day = 18 + hours_off.get(name, 0)
            for clock, out in (("06:00", 4), ("14:00", 16), ("22:00", 24)):
                at = f"2026-{month:02}-{day:02}T{clock}"
                made.append({"batch": f"{name} {month}", "counted_at": at, "out_so_far": out})
    return made


def test_one_machine_is_held_against_print_and_says_so(store_of: Make) -> None:
    found = incubators(_store(store_of, hatch_counts=_counts(("North",), {})), Selection())
    (timing,) = found.machines[0].timings
    assert timing.own is None
    assert timing.published is not None
    assert timing.offset is timing.published
    assert "only print to hold it against" in found.machines[0].sentence


def test_what_a_logger_says_is_held_against_the_hours_of_those_weeks(store_of: Make) -> None:
    """1 °C warmer in September; its one batch, set at 18:00 of the first, hatched a day earlier."""
    start = datetime.fromisoformat("2026-01-01T12:00")
    days = [start + timedelta(days=at) for at in range(270)]
    september = date(2026, 9, 1)
    climate = [
        {
            "incubator": "North",
            "at": day,
            "temperature_c": 37.5 + day.day % 3 / 20 + (september <= day.date()),
        }
        for day in days
    ]
    counts = [
        row | ({"counted_at": row["counted_at"].replace("-18T", "-17T")} if row["batch"] == "North 9" else {})
        for row in _counts(("North",), {})
    ]
    (north,) = incubators(_store(store_of, hatch_counts=counts, climate=climate), Selection()).machines
    (air,) = [one for one in north.drift if one.what == "temperature"]
    assert (air.first_day, air.size) == (september + timedelta(days=1), pytest.approx(1.0, abs=0.02))
    assert air.offset is not None
    assert (air.offset.batches, air.offset.other_batches) == (1, 8)
    assert air.offset.interval.low <= -24 <= air.offset.interval.high
    assert "The batch counted from those weeks hatched about 2" in north.sentence


def test_two_machines_differ_and_nothing_says_which_is_off(store_of: Make) -> None:
    store = _store(store_of, machines=2, hatch_counts=_counts(("North", "South"), {"South": -1}))
    found = incubators(store, Selection())
    north, south = (one.timings[0].own for one in found.machines)
    assert north is not None
    assert south is not None
    assert north.hours == pytest.approx(-south.hours)
    assert any("not which of the two is off" in note for note in found.notes)


def test_a_machine_that_only_hatches_is_told_as_the_hatcher(store_of: Make) -> None:
    """Set in North, moved to South: the hours are North's, the last days South's."""
    batches = [
        {
            "batch": f"North {month}",
            "incubator": "North",
            "hatcher": "South",
            "set_on": f"2026-{month:02}-01T18:00",
            "transfer_on": f"2026-{month:02}-16T08:00",
            "pulled_on": f"2026-{month:02}-19T18:00",
        }
        for month in range(1, 10)
    ]
    logged = [
        {"incubator": "South", "at": f"2026-01-{day}T10:00", "temperature_c": 37.2, "humidity_pct": 60 + day}
        for day in (10, 17, 18)
    ]
    counts = _counts(("North",), {})
    store = _store(
        store_of, machines=2, batches=batches, trays=_trays(("North",)), hatch_counts=counts, climate=logged
    )
    north, south = incubators(store, Selection()).machines
    assert (north.batches, north.batches_hatched, south.batches, south.batches_hatched) == (9, 0, 0, 9)
    assert north.timings[0].hatched_elsewhere == 9
    assert south.timings == ()
    assert "only hatched in" in south.sentence
    assert south.climate.hatcher_rh == pytest.approx(77.5)
    assert south.climate.mean_c == pytest.approx(37.2)


def test_no_machine_or_no_batch_is_too_thin(store_of: Make) -> None:
    with pytest.raises(DataTooThin):
        incubators(_store(store_of), Selection(period=Period(date(2030, 1, 1), None)))


def test_causes_that_are_looked_up_stand_in_the_table() -> None:
    table = {row.cause for sign in ("late_hatch", "early_hatch") for row in causes_of(sign)}
    looked_up = {
        rivals.STORED,
        rivals.LARGE,
        rivals.RELATED,
        rivals.SMALL,
        rivals.COLD,
        rivals.HIGH,
        rivals.CUTS,
    }
    assert looked_up | set(rivals.TEMPERATURE) <= table
