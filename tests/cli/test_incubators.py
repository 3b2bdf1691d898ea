"""`penwise incubators` as it is called: text, JSON, filters and refusals."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.main import run

Capture = pytest.CaptureFixture[str]
MACHINE_KEYS = {
    "incubator", "batches", "timing", "display_offset_c", "mean_temperature_c", "hatcher_humidity_pct",
    "water_loss_pct", "water_loss_target", "drift", "rivals", "set_aside", "sentence",
}  # fmt: skip
TIMING_KEYS = {"hours_from_expected", "low", "high", "inferred_offset_c", "low_c", "high_c", "why"}


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    """Two machines; South hatches a day earlier and is 0.4 °C cooler than it shows; eggs lose 10 %."""
    names, months = ("North", "South"), range(1, 4)
    return store_of(
        pens=[{"pen": "A", "species": "coturnix_quail"}],
        incubators=[{"incubator": name, "air": "forced", "role": "both"} for name in names],
        batches=[
            {"batch": f"{name}{month}", "incubator": name, "set_on": f"2026-0{month}-01T18:00",
             "transfer_on": f"2026-0{month}-16T18:00", "pulled_on": f"2026-0{month}-19T18:00"}
            for name in names for month in months
        ],
        trays=[
            {"batch": f"{name}{month}", "tray": "1", "pen": "A", "eggs_set": 20, "hatched": 18,
             "infertile": 2, "storage_days": 3, "tare_g": 100, "weight_set_g": 340, "weight_transfer_g": 316}
            for name in names for month in months
        ],
        hatch_counts=[
            {"batch": f"{name}{month}", "counted_at": f"2026-0{month}-{18 - place}T{clock}",
             "out_so_far": out}
            for place, name in enumerate(names) for month in months
            for clock, out in (("06:00", 2), ("14:00", 12), ("22:00", 18))
        ],
        climate=[
            {"incubator": "South", "at": f"2026-01-{day:02}T10:00", "temperature_c": celsius,
             "humidity_pct": 55.0}
            for day, celsius in ((3, 37.6), (4, 37.8), (5, 85.0), (17, 37.5))
        ],
        checks=[
            {"incubator": "South", "at": f"2026-02-0{day}T10:00", "displayed_c": 37.6 + day / 10,
             "reference_c": 37.2 + day / 10}
            for day in (1, 2, 3)
        ],
    )  # fmt: skip


def _json(capsys: Capture, store: Path, *more: str) -> dict[str, Any]:
    assert run(["incubators", "--store", str(store), "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_json_has_its_keys_and_numbers(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store)
    assert found["schema"] == "penwise.incubators/1"
    north, south = found["machines"]
    for machine in (north, south):
        assert set(machine) >= MACHINE_KEYS
        assert set(machine["timing"]) >= TIMING_KEYS
    timing = south["timing"]
    assert timing["low"] <= -24 <= timing["high"] < 0
    assert timing["hours_from_expected"] == pytest.approx(-north["timing"]["hours_from_expected"])
    assert timing["low_c"] > 0
    assert (timing["temperature_of"], timing["slope_borrowed"]) == ("eggshell", True)
    assert south["display_offset_c"] == pytest.approx(0.4)
    assert north["display_offset_c"] is None
    assert north["display"]["why"]
    assert south["mean_temperature_c"] == pytest.approx(37.7)
    assert south["hatcher_humidity_pct"] == pytest.approx(55)
    assert south["set_aside"] == {"sensor_starting": 1}
    assert south["water_loss_pct"] == pytest.approx(10)
    target = south["water_loss_target"]
    assert (target["low"], target["high"]) == (pytest.approx(8.94), pytest.approx(11.96))


def test_text_begins_with_each_machine(store: Path, capsys: Capture) -> None:
    assert run(["incubators", "--store", str(store)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("NORTH North hatches about")
    for part in (
        "HOURS OF THE HATCH", "BEFORE South IS CALLED WARM OR COOL", "small eggs", "HOW THIS WAS MADE",
        "Of 4 readings, set aside as impossible: 1 (85 °C (185 °F), with which a sensor starts).",
        "shows 0.4 °C more than the reference",
    ):  # fmt: skip
        assert part in said


def test_filters(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--incubator", "south", "--from", "2026-01-01", "--to", "2026-01-31")
    (south,) = found["machines"]
    assert (south["incubator"], south["batches"], south["timing"]["batches"]) == ("South", 1, 1)
    assert south["timing"]["other_batches"] == 1


@pytest.mark.parametrize(
    ("given", "code"),
    [(("--incubator", "Nobody"), 2), (("--from", "soon"), 2), (("--from", "2030-01-01"), 1)],
)
def test_refusals(store: Path, capsys: Capture, given: tuple[str, ...], code: int) -> None:
    assert run(["incubators", "--store", str(store), *given]) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err
    assert "Traceback" not in err


def test_no_store_is_exit_4(tmp_path: Path, capsys: Capture) -> None:
    assert run(["incubators", "--store", str(tmp_path / "none.duckdb")]) == 4
    assert "Traceback" not in capsys.readouterr().err
