"""`penwise review`: how the month went."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import click

from analytics.cli.common import Day, emit_json, json_option, selection_options, store_option
from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.values import Month


@click.command()
@store_option
@click.option("--month", "month_text", metavar="YYYY-MM", help="Month of hatch; the last one if left out.")
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False), help="Write a page to print to FILE."
)
@click.option("--as-of", type=Day(), help="Day on which open batches are looked at; today if left out.")
@selection_options
@json_option
def review(
    store: Path,
    month_text: str | None,
    html: Path | None,
    as_of: date | None,
    selection: Selection,
    as_json: bool,
) -> None:
    """The monthly flock review: rates beside the twelve months before, and what the records leave open."""
    from analytics.reports.month_json import SCHEMA, review_values
    from analytics.reports.month_text import review_text
    from analytics.studies.month import month_review

    month = Month.parse(month_text) if month_text else None
    found = month_review(store, month, selection, as_of or datetime.now(UTC).astimezone().date())
    if html:
        from analytics.reports.month_html import review_page

        _write(html, review_page(found))
        click.echo(f"Written: {html}", err=True)
    if as_json:
        emit_json(SCHEMA, review_values(found))
    elif not html:
        click.echo(review_text(found), nl=False)


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise WrongUsage(
            f"The file {path}", f"It cannot be written: {error.strerror}", "Give another file"
        ) from error
