"""Looking after the store: copies that were read through, the data back out, and its health."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analytics.cli.common import emit_json, json_option, plain, store_option, write_file
from analytics.errors import WrongUsage

if TYPE_CHECKING:
    from analytics.sheets.health import StoreHealth
    from analytics.store.care import Copied

UNSOUND = 4
"""Exit code of a store that is damaged."""


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace the file if it is there.")
@click.option(
    "--keep", type=int, metavar="N", help="FILE is a folder: add a copy and keep the last N of them."
)
@store_option
def backup(file: Path, store: Path, replace: bool, keep: int | None) -> None:
    """Makes a verified copy of the store in FILE, or with --keep a numbered one in the folder FILE."""
    from analytics.store.care import backup as copy_store

    if keep is None:
        copied, removed = copy_store(store, file, replace=replace), 0
    elif replace:
        raise WrongUsage("--keep and --replace", "A copy that is counted has a new name", "Leave one out")
    else:
        copied, removed = _add_copy(store, file, keep)
    rows = sum(table.rows for table in copied.tables.values())
    click.echo(
        f"{copied.path}: {rows} rows in {len(copied.tables)} tables, read through and the same as the store."
    )
    if removed:
        click.echo(f"{removed} older cop{'y' if removed == 1 else 'ies'} removed.")


def _add_copy(store: Path, folder: Path, keep: int) -> tuple[Copied, int]:
    from analytics.store.copies import backup_into

    copied, removed = backup_into(store, folder, keep, today=date.today())  # noqa: DTZ011
    return copied, len(removed)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@store_option
def restore(file: Path, store: Path) -> None:
    """Puts the copy FILE in the store's place; the present store is kept beside it."""
    from analytics.store.care import restore as bring_back

    copied = bring_back(file, store)
    click.echo(f"{store} is the store of {file.name}, read through.")
    if copied.kept:
        click.echo(f"The store that was here is kept as {copied.kept}.")


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--farm",
    metavar="NAME",
    help="Write into a set of many farms instead, as this one: Parquet by farm and month.",
)
@click.option(
    "--as",
    "kind",
    type=click.Choice(("csv", "xlsx", "parquet")),
    default="csv",
    show_default=True,
    help="CSV with its history, to bring back; one workbook, or Parquet, to reckon on.",
)
@store_option
def export(folder: Path, store: Path, farm: str | None, kind: str) -> None:
    """Writes every record sheet, with its history beside it, into the new folder DIR.

    With --farm: the trays of closed batches into the set DIR, in which other farms may be already. Done
    again, it brings this farm's months up to date and touches no other's. Then: penwise causes --data DIR
    """
    if farm is not None:
        _into_set(store, folder, farm)
        return
    if kind != "csv":
        _to_reckon(store, folder, kind)
        return
    from analytics.sheets.export import export as write_sheets

    rows = write_sheets(store, folder)
    total = f"{sum(rows.values())} row{'' if sum(rows.values()) == 1 else 's'}"
    click.echo(f"{folder}: {total} in {len(rows)} sheets, and the whole record beside them.")
    click.echo(f"To bring everything back into a new store: penwise load {folder} --store NEW")


def _to_reckon(store: Path, folder: Path, kind: str) -> None:
    """The sheets with rows as one workbook, or as Parquet."""
    from analytics.reports.tables import as_table, packed
    from analytics.sheets.export import live_rows, refuse_full
    from analytics.studies.wording import counted

    refuse_full(folder)
    sheets = live_rows(store)
    if kind == "xlsx":
        files = {"sheets.xlsx": packed(list(sheets.items()), kind)} if sheets else {}
    else:
        files = {f"{name}.{kind}": as_table(rows, kind) for name, rows in sheets.items()}
    folder.mkdir(parents=True, exist_ok=True)
    for name, made in files.items():
        write_file(folder / name, made)
    rows, those = counted(sum(map(len, sheets.values())), "row"), counted(len(sheets), "sheet")
    click.echo(f"{folder}: {rows} of {those}. To bring records back, export them as CSV.")


def _into_set(store: Path, folder: Path, farm: str) -> None:
    from analytics.store.farm_set import write_farm

    done = write_farm(store, folder, farm)
    click.echo(f"{folder}: {done.trays:,} trays of {done.farm}, {done.months} months of hatch.")
    if done.dropped:
        click.echo(f"{done.dropped} months that hold no tray any more were taken away.")
    click.echo("Names of pens and machines and all counts are in it; notes, weights and birds are not.")


@click.command()
@click.option("--accept-loss", is_flag=True, help="Go on with a store that lacks changes it once held.")
@json_option
@store_option
def check(store: Path, as_json: bool, accept_loss: bool) -> None:
    """Reads every row of the store and says what is wrong. Exit code 4 when something is."""
    from analytics.sheets.health import check as look_through

    if accept_loss:
        _accept_loss(store)
    health = look_through(store)
    if as_json:
        emit_json("penwise.check/1", plain(health) | {"is_sound": health.is_sound})
    else:
        _print_health(health)
    if not health.is_sound:
        raise SystemExit(UNSOUND)


def _accept_loss(store: Path) -> None:
    from analytics.store.care import accept_loss as go_on

    lost = go_on(store)
    click.echo(f"{lost} lost change{'' if lost == 1 else 's'} given up.", err=True)


def _print_health(health: StoreHealth) -> None:
    click.echo(f"{health.store}, schema {health.schema_version}, {health.change_count} changes")
    when = f"{health.last_load:%Y-%m-%d %H:%M} UTC" if health.last_load else "never"
    click.echo(f"last load: {when}")
    for sheet in health.sheets:
        if sheet.live or sheet.withdrawn:
            aside = f", {sheet.withdrawn} withdrawn" if sheet.withdrawn else ""
            click.echo(f"  {sheet.sheet}: {sheet.live}{aside}")
    for ailment in health.ailments:
        click.echo(f"{'note' if ailment.is_note else 'WRONG'}: {ailment.sentence.rstrip('.')}.")
    click.echo("Every row could be read." if health.is_sound else "The store needs your attention.")
