"""`penwise demo` and `penwise serve`: the dashboard in the browser, of this computer or of its network."""

from __future__ import annotations

import signal
import sys
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import click

from analytics.cli.access import access_folder
from analytics.cli.common import default_store, store_option
from analytics.errors import StoreBusy, StoreMissing, WrongUsage

if TYPE_CHECKING:
    from dashboard.launch import Shared

_PORT = click.option("--port", type=click.IntRange(1024, 65535), help="Port on this computer.")
_QUIET = click.option("--no-browser", is_flag=True, help="Print the address, open no browser.")


_LAN = click.option("--lan", is_flag=True, help="Show it to the devices of your network, by a passphrase.")
_NAMES = click.option(
    "--name",
    "names",
    multiple=True,
    metavar="NAME",
    help="With --lan: a further name of this computer.",
)
_UNENCRYPTED = click.option(
    "--unencrypted", is_flag=True, help="With --lan: without a certificate; the network can read along."
)


@click.command()
@store_option
@_PORT
@_QUIET
@_LAN
@_NAMES
@_UNENCRYPTED
def serve(
    store: Path, port: int | None, no_browser: bool, lan: bool, names: tuple[str, ...], unencrypted: bool
) -> None:
    """The dashboard on your records, in the browser of this computer; with --lan of your phone too."""
    shared = _shared(lan, names, unencrypted)
    _refuse_foreign(store)
    _show(store, example_store(None), port, no_browser, shared)


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
@_LAN
@_NAMES
@_UNENCRYPTED
def demo(
    seed: int | None,
    store: Path | None,
    port: int | None,
    no_browser: bool,
    lan: bool,
    names: tuple[str, ...],
    unencrypted: bool,
) -> None:
    """The dashboard on an invented smallholding; your own records are not touched."""
    _leave_when_told()
    shared = _shared(lan, names, unencrypted)
    place = store or example_store(seed)
    if not place.exists() or (store and (seed is not None or not _is_demo(store))):
        _make(place, seed)
    _show(place, place, port, no_browser, shared)


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


def _shared(lan: bool, names: tuple[str, ...], unencrypted: bool) -> Shared | None:
    """How the network may look; None when it may not."""
    if not lan:
        if names or unencrypted:
            raise WrongUsage("--name or --unencrypted", "They belong to --lan", "Add --lan or leave them out")
        return None
    from dashboard.access import certificate, passphrase
    from dashboard.launch import Shared

    folder = access_folder()
    if not passphrase.is_set(folder):
        raise WrongUsage(
            "--lan shows your records to every device in the network",
            "That needs a passphrase, and none is set",
            "Set one first: penwise passphrase",
        )
    known = (*certificate.own_addresses(), *certificate.own_names(), *names, *certificate.LOOPBACK)
    hosts = tuple(dict.fromkeys(host.lower() for host in known))
    return Shared(folder, hosts, None if unencrypted else certificate.papers_for(folder, hosts))


def _show(store: Path, example: Path, port: int | None, no_browser: bool, shared: Shared | None) -> None:
    from dashboard import launch

    _leave_when_told()
    chosen = launch.choose_port(port, launch.EVERYWHERE if shared else launch.HOST)
    if shared is None:
        click.echo(f"penwise shows {store} at {launch.address(chosen)}")
    else:
        _say_where(store, chosen, shared)
    click.echo("Ctrl-C ends it.")
    launch.serve(store, example, chosen, open_browser=not no_browser, shared=shared)


def _say_where(store: Path, port: int, shared: Shared) -> None:
    """Where the network finds it, and what its devices will be asked."""
    from dashboard import launch

    click.echo(f"penwise shows {store} to your network, by the passphrase, at")
    for host in shared.hosts:
        click.echo(f"  {launch.address(port, host, encrypted=shared.papers is not None)}")
    if shared.papers is None:
        click.echo("Not encrypted: others in the network can read the passphrase and the pages.", err=True)
        return
    if shared.papers.is_new:
        click.echo("A new certificate was made: every device asks once whether you trust it.")
    click.echo("Before you say yes on a device, compare the certificate's SHA-256 fingerprint:")
    click.echo(f"  {shared.papers.fingerprint}")


def _leave_when_told() -> None:
    """Until the dashboard listens by itself, Ctrl-C and a request to end leave without a trace."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _leave)


def _leave(_number: int, _frame: FrameType | None) -> None:
    sys.exit(0)
