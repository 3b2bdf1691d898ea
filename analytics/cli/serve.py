"""`penwise demo` and `penwise serve`: the dashboard in the browser, on this computer only."""

from __future__ import annotations

import signal
import sys
from contextlib import suppress
from pathlib import Path
from types import FrameType

import click

from analytics.cli.common import default_store, store_option
from analytics.errors import StoreBusy, StoreMissing, WrongUsage

_PORT = click.option("--port", type=click.IntRange(1024, 65535), help="Port on this computer.")
_QUIET = click.option("--no-browser", is_flag=True, help="Print the address, open no browser.")


@click.command()
@store_option
@_PORT
@_QUIET
@click.option("--lan", is_flag=True, help="Show the dashboard to other computers too (refused for now).")
def serve(store: Path, port: int | None, no_browser: bool, lan: bool) -> None:
    """The dashboard on your records, in the browser of this computer."""
    if lan:
        raise WrongUsage(
            "--lan shows your records to every device in the network",
            "That needs a passphrase, which this version does not have",
            "Use the dashboard on the computer that holds the store",
        )
    _refuse_foreign(store)
    _show(store, example_store(None), port, no_browser)


@click.command()
@click.option("--seed", type=click.IntRange(0), help="Another invented smallholding.")
@click.option(
    "--store",
    type=click.Path(path_type=Path, dir_okay=False),
    show_default="your data folder, under a name of its own",
    help="Where to keep it.",
)
@_PORT
@_QUIET
def demo(seed: int | None, store: Path | None, port: int | None, no_browser: bool) -> None:
    """The dashboard on an invented smallholding; your own records are not touched."""
    _leave_when_told()
    place = store or example_store(seed)
    if not place.exists() or (store and (seed is not None or not _is_demo(store))):
        _make(place, seed)
    _show(place, place, port, no_browser)


def example_store(seed: int | None) -> Path:
    """Where the invented smallholding of a seed is kept: beside the user's store, under its own name."""
    return default_store().with_name("demo.duckdb" if seed is None else f"demo-{seed}.duckdb")


def _refuse_foreign(store: Path) -> None:
    """Refuses a file that cannot be shown before anything starts; one that is in use is shown when free."""
    from analytics.store.connection import change_count

    with suppress(StoreMissing, StoreBusy):
        change_count(store)


def _is_demo(store: Path) -> bool:
    from seed_demo.build import is_demo

    return is_demo(store)


def _make(place: Path, seed: int | None) -> None:
    """Builds the demo store; raises WrongUsage where somebody's records are."""
    from seed_demo.build import build_demo

    click.echo("Making up a smallholding with its records.", err=True)
    with click.progressbar(length=100, file=sys.stderr, label="Loading") as bar:
        build_demo(place, seed, lambda share, _: bar.update(int(100 * share) - bar.pos))


def _show(store: Path, example: Path, port: int | None, no_browser: bool) -> None:
    from dashboard import launch

    _leave_when_told()
    chosen = launch.choose_port(port)
    click.echo(f"penwise shows {store} at {launch.address(chosen)}")
    click.echo("Ctrl-C ends it.")
    launch.serve(store, example, chosen, open_browser=not no_browser)


def _leave_when_told() -> None:
    """Until the dashboard listens by itself, Ctrl-C and a request to end leave without a trace."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _leave)


def _leave(_number: int, _frame: FrameType | None) -> None:
    sys.exit(0)
