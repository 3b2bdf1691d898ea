"""What the commands share: where the store is, the filters, and JSON on stdout."""

from __future__ import annotations

import dataclasses
import functools
import json
import math
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from enum import Enum
from pathlib import Path
from typing import Any

import click
import platformdirs

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.values import Period

JSON_WANTED = "penwise.json"
"""Key in the click context's `meta` that is set when `--json` was given."""

_HUNDREDTHS = 100


def default_store() -> Path:
    """The store in the user's data folder."""
    return platformdirs.user_data_path("penwise", appauthor=False) / "penwise.duckdb"


def store_option(function: Callable[..., Any]) -> Callable[..., Any]:
    """Adds `--store FILE` and passes it as `store: Path`; PENWISE_STORE overrides the default."""
    return click.option(
        "--store",
        type=click.Path(path_type=Path),
        envvar="PENWISE_STORE",
        default=default_store,
        show_default="your data folder, or PENWISE_STORE",
        help="The store to use.",
    )(function)


def json_option(function: Callable[..., Any]) -> Callable[..., Any]:
    """Adds `--json` and passes it as `as_json: bool`."""
    return click.option(
        "--json", "as_json", is_flag=True, callback=_note_json, help="Print JSON on stdout, nothing else."
    )(function)


def _note_json(context: click.Context, _: click.Parameter, wanted: bool) -> bool:
    context.meta[JSON_WANTED] = wanted
    return wanted


class Day(click.ParamType[date]):
    """A day written YYYY-MM-DD."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The day, or wrong usage."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            self.fail(f"{value!r} is not a day. Write it like 2026-03-14.", param, ctx)


def selection_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Adds `--from --to --species --pen --incubator` and passes `selection: Selection`."""

    @click.option("--from", "first_day", type=Day(), help="First day of hatch that counts.")
    @click.option("--to", "last_day", type=Day(), help="Last day of hatch that counts.")
    @click.option("--species", multiple=True, metavar="KEY", help="Only this species; may be repeated.")
    @click.option("--pen", "pens", multiple=True, metavar="PEN", help="Only this pen; may be repeated.")
    @click.option(
        "--incubator",
        "incubators",
        multiple=True,
        metavar="NAME",
        help="Only this machine, as setter or hatcher; may be repeated.",
    )
    @functools.wraps(function)
    def with_selection(
        *given: Any,
        first_day: date | None,
        last_day: date | None,
        species: tuple[str, ...],
        pens: tuple[str, ...],
        incubators: tuple[str, ...],
        **others: Any,
    ) -> Any:
        selection = Selection(Period(first_day, last_day), species, pens, incubators)
        return function(*given, selection=selection, **others)

    return with_selection


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[float, str], None] | None]:
    """A bar on stderr for work that tells its share done, 0..1; None where stderr is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=_HUNDREDTHS, label=label, file=sys.stderr) as bar:
        yield lambda share, _: bar.update(max(0, int(share * _HUNDREDTHS) - bar.pos))


def emit_json(schema: str, payload: Mapping[str, Any]) -> None:
    """Prints one JSON object with its schema on stdout; what is no number is null, dates are ISO."""
    whole = {"schema": schema, **plain(payload)}
    click.echo(json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=2))


def write_file(path: Path, content: bytes) -> None:
    """Writes a file that was asked for and says so on stderr; where it cannot, that is wrong usage."""
    try:
        path.write_bytes(content)
    except OSError as error:
        raise WrongUsage(
            f"The file {path}", f"It cannot be written: {error.strerror}", "Give another file"
        ) from error
    click.echo(f"Written: {path}", err=True)


def plain(value: Any) -> Any:
    """Records, dates, enums and arrays as what JSON knows; NaN and infinity become None."""
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {part.name: plain(getattr(value, part.name)) for part in dataclasses.fields(value)}
    if hasattr(value, "isoformat"):
        return value.isoformat()
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(item) for item in value]
    return str(value)
