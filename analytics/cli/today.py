"""Which day a command takes for today."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import click

from analytics.studies.wording import long_day


def today_of(store: Path) -> date:
    """Today; of the invented smallholding the day on which its records end, which is said on stderr."""
    from seed_demo.build import is_demo
    from seed_demo.world import TODAY

    if not is_demo(store):
        return datetime.now(UTC).astimezone().date()
    click.echo(f"These records are invented; they are looked at on {long_day(TODAY)}.", err=True)
    return TODAY
