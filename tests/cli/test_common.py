from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from analytics.cli.common import default_store, emit_json, json_option, selection_options, store_option
from analytics.options import Selection
from analytics.values import Period


def _ask(*arguments: str, env: dict[str, str | None] | None = None) -> Result:
    @click.command()
    @store_option
    @selection_options
    @json_option
    def command(store: Path, selection: Selection, as_json: bool) -> None:
        emit_json("x/1", {"store": store, "selection": selection, "as_json": as_json})

    return CliRunner(env=env or {}).invoke(command, list(arguments))


def _told(result: Result) -> dict[str, Any]:
    assert result.exit_code == 0, result.output
    told: dict[str, Any] = json.loads(result.stdout)
    return told


def test_the_store_is_the_users_unless_named_by_option_or_environment() -> None:
    nowhere: dict[str, str | None] = {"PENWISE_STORE": None}
    assert _told(_ask(env=nowhere))["store"] == str(default_store())
    assert default_store().name == "penwise.duckdb"
    elsewhere: dict[str, str | None] = {"PENWISE_STORE": "/tmp/env.duckdb"}
    assert _told(_ask(env=elsewhere))["store"] == "/tmp/env.duckdb"
    assert _told(_ask("--store", "/tmp/option.duckdb", env=elsewhere))["store"] == "/tmp/option.duckdb"


def test_without_filters_everything_is_selected() -> None:
    told = _told(_ask())
    assert told["selection"] == {
        "period": {"start": None, "end": None}, "species": [], "pens": [], "incubators": [],
    }  # fmt: skip
    assert told["as_json"] is False


def test_filters_may_be_repeated_and_keep_their_order() -> None:
    days = ("--from", "2026-01-02", "--to", "2026-03-04")
    told = _told(_ask(*days, "--species", "duck", "--pen", "b", "--pen", "a", "--incubator", "M", "--json"))
    assert told["selection"] == {
        "period": {"start": "2026-01-02", "end": "2026-03-04"},
        "species": ["duck"], "pens": ["b", "a"], "incubators": ["M"],
    }  # fmt: skip
    assert told["as_json"] is True


@pytest.mark.parametrize("day", ["2026-02-30", "14.03.2026", "yesterday", "2026-3-1", ""])
def test_a_day_that_is_none_is_wrong_usage(day: str) -> None:
    told = _ask("--from", day)
    assert told.exit_code == 2
    assert "Write it like 2026-03-14" in told.stderr


def test_options_pass_a_selection_object() -> None:
    got: list[Selection] = []

    @click.command()
    @selection_options
    def command(selection: Selection) -> None:
        got.append(selection)

    CliRunner().invoke(command, ["--from", "2026-01-02"])
    assert got == [Selection(period=Period(date(2026, 1, 2), None))]
