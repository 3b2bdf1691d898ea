"""Sheets that came through the browser: laid in a folder for the load, and nothing of them left behind."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from analytics.sheets.headings import Logger
from analytics.sheets.load import LoadReport, load


@dataclass(frozen=True, slots=True)
class Given:
    """One file as the browser gave it.

    Attributes:
        name: its name; only the last part is used.
        content: its bytes.
    """

    name: str
    content: bytes


def take(
    store: Path, given: Sequence[Given], logger: Logger, *, keep: bool, accept_corrections: bool
) -> LoadReport:
    """Checks the files, and keeps them if told so.

    Args:
        store: the store; made when there is none and the files are kept.
        given: the files.
        logger: how a logger's file is written.
        keep: whether to keep the rows; otherwise it is only said what keeping would do.
        accept_corrections: whether recorded values may change.

    Raises:
        as `analytics.sheets.load.load`.
    """
    with _laid_out(given) as paths:
        return load(
            store,
            paths,
            accept_corrections=accept_corrections,
            dry_run=not keep,
            mapping=logger.mapping,
            fahrenheit=logger.fahrenheit,
            incubator=logger.incubator,
        )


@contextmanager
def _laid_out(given: Sequence[Given]) -> Iterator[list[Path]]:
    """The files, each in a folder of its own: two of one name do not meet, and no name leads elsewhere."""
    with tempfile.TemporaryDirectory(prefix="penwise-") as folder:
        paths = []
        for number, file in enumerate(given):
            place = Path(folder) / str(number)
            place.mkdir()
            path = place / (Path(file.name.replace("\\", "/")).name or "sheet")
            path.write_bytes(file.content)
            paths.append(path)
        yield paths
