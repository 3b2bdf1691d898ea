"""The stripe map as a picture file, without a browser: the marks of the page, drawn on paper."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from analytics.studies.causes_records import StripeBatch, StripeMap
from dashboard import charts_losses_map as drawing
from dashboard import words_losses as words
from dashboard.look import Look
from dashboard.pictures import on_paper, saved

_CELL, _NAMES, _HEAD, _FOOT = 22.0, 130.0, 120.0, 56.0
"""Pixels of a cell, of the pens' names, of what stands above and beneath."""
_POINTS = 0.75
"""Points of a pixel."""


def map_picture(shown: StripeMap, batches: Sequence[StripeBatch], title: str, kind: str, look: Look) -> bytes:
    """Draws the map into a file.

    Args:
        shown: the record.
        batches: the columns, of one machine together.
        title: stands above it.
        kind: one of `dashboard.pictures.KINDS`.
        look: its colours.
    """
    pens = list(drawing.by_pen(shown, batches))
    wide = max(_NAMES + _CELL * len(batches) + 20, 640.0)
    high = _HEAD + _CELL * len(pens) + _FOOT
    paper = on_paper(wide, high, title, look)
    place = paper.add_axes(
        (
            _NAMES / wide,
            _FOOT / high,
            _CELL * len(batches) / wide,
            _CELL * len(pens) / high,
        ),
        facecolor="none",
    )
    _dress(place, pens, batches, look)
    columns = {one.batch: at for at, one in enumerate(batches)}
    for cell in shown.cells:
        if cell.batch in columns:
            _mark(place, columns[cell.batch], pens.index(cell.pen), cell.residual, cell.eggs, cell.few, look)
    note = f"{words.MAP_KEY} {words.MAP_CAUTION}"
    paper.text(0.03, 12 / high, note, color=look.faded, fontsize=8.5, wrap=True)
    return saved(paper, kind)


def _dress(place: Any, pens: Sequence[str], batches: Sequence[StripeBatch], look: Look) -> None:
    """Names of pens, batches and machines, and a line between machines."""
    place.set_xlim(-0.5, len(batches) - 0.5)
    place.set_ylim(len(pens) - 0.5, -0.5)
    place.set_yticks(range(len(pens)), pens)
    place.set_xticks(range(len(batches)), [one.batch for one in batches], rotation=90)
    place.xaxis.tick_top()
    place.tick_params(length=0, labelsize=8.5, labelcolor=look.ink)
    for side in place.spines.values():
        side.set_visible(False)
    start = 0
    for machine, group in groupby(batches, key=lambda one: one.machine):
        end = start + len(list(group))
        place.annotate(
            machine, ((start + end - 1) / 2, -0.5), (0, 38), textcoords="offset points", ha="center",
            color=look.ink, fontsize=9.5, annotation_clip=False,
        )  # fmt: skip
        if start:
            place.axvline(start - 0.5, color=look.line, lw=1)
        start = end


def _mark(place: Any, column: int, row: int, residual: float, eggs: float, few: bool, look: Look) -> None:
    """Square: fewer than expected; ring: more; dot: about as many; its shade how far, its size the eggs."""
    level, size = drawing.strength(residual, few=few), drawing.side(eggs) * _POINTS
    if not level:
        place.plot(column, row, "o", ms=size / 3, mfc=look.faded, mec="none")
    elif residual < 0:
        place.plot(column, row, "s", ms=size, mfc=look.fewer[level - 1], mec="none")
    else:
        place.plot(column, row, "o", ms=size - 2, mfc="none", mec=look.more[level - 1], mew=2.2)
