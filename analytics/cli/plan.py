"""`penwise plan`: how many eggs, which into which machine, and which days."""

from __future__ import annotations

import secrets
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click

from analytics.cli.common import Day, emit_json, json_option, selection_options, store_option, write_file
from analytics.options import Selection

_SEEDS = 1_000_000


@click.group()
def plan() -> None:
    """What to do next: how many eggs to set, which into which machine, on which days; and whom to mate."""


@plan.command()
@store_option
@click.option(
    "--measure",
    default="hatch_of_set",
    show_default=True,
    metavar="NAME",
    help="fertility, hatch_of_set, hatch_of_fertile, early_loss, ... as in `penwise pens`.",
)
@click.option(
    "--difference",
    type=float,
    default=0.1,
    show_default=True,
    metavar="SHARE",
    help="By how much the poorer pen is poorer; 0.1 = 10 points.",
)
@click.option("--rate", type=float, metavar="RATE", help="Usual rate; left out: as your records say.")
@click.option(
    "--power", type=float, default=0.8, show_default=True, metavar="SHARE", help="Chance of seeing it."
)
@click.option(
    "--tray-eggs",
    type=click.IntRange(1, 10_000),
    metavar="N",
    help="Eggs of a tray; left out: a middling tray of your records.",
)
@click.option(
    "--trays",
    type=click.IntRange(1, 1_000),
    default=1,
    show_default=True,
    metavar="N",
    help="Trays of each pen in a batch.",
)
@click.option("--apart", is_flag=True, help="Each pen in batches of its own, not side by side.")
@click.option(
    "--batches",
    type=click.IntRange(1, 2_000),
    metavar="N",
    help="Say too what so many batches would show.",
)
@selection_options
@json_option
def size(
    store: Path,
    measure: str,
    difference: float,
    rate: float | None,
    power: float,
    tray_eggs: int | None,
    trays: int,
    apart: bool,
    batches: int | None,
    selection: Selection,
    as_json: bool,
) -> None:
    """How many eggs of two pens show a difference, from how alike your own eggs are.

    With --pen given twice: the smallest difference that the eggs of those two could have shown.
    """
    from analytics.reports.plan_json import SCHEMA, size_values
    from analytics.reports.plan_text import size_text
    from analytics.studies.plan_records import SizeAsked
    from analytics.studies.plan_size import plan_size

    asked = SizeAsked(measure, difference, rate, power, tray_eggs, trays, not apart, batches)
    answer = plan_size(store, asked, selection)
    if as_json:
        emit_json(SCHEMA, size_values(answer))
    else:
        click.echo(size_text(answer), nl=False)


@plan.command()
@store_option
@click.option("--set-on", type=Day(), required=True, help="Day on which the eggs are set.")
@click.option(
    "--species",
    multiple=True,
    required=True,
    metavar="KEY",
    help="Kind of bird; repeat it for a mixed batch.",
)
@click.option(
    "--incubator", default="", metavar="NAME", help="The machine; what is in it already is looked at."
)
@click.option(
    "--storage-days", type=click.FloatRange(0, 60), metavar="N", help="Days the eggs were stored before."
)
@click.option(
    "--ics", type=click.Path(path_type=Path, dir_okay=False), help="Write the days to a calendar FILE."
)
@json_option
def dates(
    store: Path,
    set_on: date,
    species: tuple[str, ...],
    incubator: str,
    storage_days: float | None,
    ics: Path | None,
    as_json: bool,
) -> None:
    """When to candle, move and expect a batch, by the published days of its birds."""
    from analytics.reports.plan_ics import calendar_of
    from analytics.reports.plan_json import SCHEMA, dates_values
    from analytics.reports.plan_text import dates_text
    from analytics.studies.plan_dates import plan_dates

    answer = plan_dates(store, set_on, species, incubator, storage_days)
    if ics:
        write_file(ics, calendar_of(answer, datetime.now(UTC)))
    if as_json:
        emit_json(SCHEMA, dates_values(answer))
    else:
        click.echo(dates_text(answer), nl=False)


class Numbers(click.ParamType[tuple[str, int]]):
    """A whole number for a name, written NAME=N."""

    name = "NAME=N"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, int]:
        """Name and number, or wrong usage."""
        if isinstance(value, tuple):
            return value
        label, _, number = value.rpartition("=")
        if not label.strip() or not number.strip().isdecimal():
            self.fail(f"{value!r} is no name with a whole number. Write it like Rowan=24.", param, ctx)
        return label.strip(), int(number)


@plan.command()
@store_option
@click.option(
    "--eggs", type=Numbers(), multiple=True, help="Eggs of a pen that wait; else as at its last set."
)
@click.option(
    "--room",
    type=Numbers(),
    multiple=True,
    help="Free places of a machine; else what it holds less what is in.",
)
@click.option(
    "--each",
    type=click.IntRange(1, 10_000),
    metavar="N",
    help="Eggs of a pen in a foreign machine at least; left out: 12, 9 or 6, the most that will do.",
)
@click.option(
    "--sets", type=click.IntRange(1, 100), default=2, show_default=True, metavar="N", help="Sets like this."
)
@click.option(
    "--seed", type=click.IntRange(0), metavar="N", help="Seed of the lots; drawn and shown if left out."
)
@click.option(
    "--stored-days",
    type=click.FloatRange(0, 60),
    default=7.0,
    show_default=True,
    metavar="N",
    help="Days that a lot is kept, where storage goes with something else; 0 leaves storage out.",
)
@click.option(
    "--fresh-days",
    type=click.FloatRange(0, 60),
    default=2.0,
    show_default=True,
    metavar="N",
    help="Days of the fresh lot beside it.",
)
@selection_options
@json_option
def split(
    store: Path,
    eggs: tuple[tuple[str, int], ...],
    room: tuple[tuple[str, int], ...],
    each: int | None,
    sets: int,
    seed: int | None,
    stored_days: float,
    fresh_days: float,
    selection: Selection,
    as_json: bool,
) -> None:
    """Whose eggs go where next, so that the fewest moved eggs tell pens, machines and storage apart.

    For one kind of bird: that of --species, else the one with most eggs.
    """
    from analytics.reports.plan_json import SCHEMA, split_values
    from analytics.reports.plan_text import split_text
    from analytics.studies.plan_records import SplitAsked
    from analytics.studies.plan_split import plan_split

    drawn = secrets.randbelow(_SEEDS) if seed is None else seed
    asked = SplitAsked(
        drawn,
        dict(eggs),
        dict(room),
        each,
        sets,
        stored_days > 0,
        fresh_days,
        stored_days or 1.0 + fresh_days,
    )
    answer = plan_split(store, asked, selection)
    if as_json:
        emit_json(SCHEMA, split_values(answer))
    else:
        click.echo(split_text(answer), nl=False)


@plan.command()
@store_option
@click.option(
    "--male", "males", multiple=True, metavar="BIRD", help="A male; left out: all that stand in pens."
)
@click.option("--female", "females", multiple=True, metavar="BIRD", help="A female; likewise.")
@click.option(
    "--most",
    type=click.IntRange(1, 1_000),
    metavar="N",
    help="Females a male may have; left out: as many as share the females out evenly.",
)
@click.option("--species", default="", metavar="KEY", help="Kind of bird; left out: the one with most birds.")
@click.option("--as-of", type=Day(), help="Day on which the pens are looked at; left out: the last set.")
@json_option
def matings(
    store: Path,
    males: tuple[str, ...],
    females: tuple[str, ...],
    most: int | None,
    species: str,
    as_of: date | None,
    as_json: bool,
) -> None:
    """Who with whom, so that the young are as little inbred as the birds at hand allow; rotation beside it.

    Says too how related the pens are as they stand, how fast the flock becomes inbred, and whether the hatch
    falls with it here.
    """
    from analytics.reports.plan_json import SCHEMA, matings_values
    from analytics.reports.plan_text import matings_text
    from analytics.studies.kinship import plan_matings
    from analytics.studies.kinship_records import MatingsAsked

    answer = plan_matings(store, MatingsAsked(males, females, most, species), as_of)
    if as_json:
        emit_json(SCHEMA, matings_values(answer))
    else:
        click.echo(matings_text(answer), nl=False)
