"""The stripe map: pens by batches, drawn as a table of marks, so that it can be read, clicked and scrolled.

A mark's shape says the direction (square: fewer than expected, ring: more, dot: about as many), its shade how
far it lies beyond what chance alone makes, and its size how many eggs stand behind it.
"""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from analytics.studies.causes_records import StripeBatch, StripeCell, StripeMap
from analytics.values import label_order
from dashboard import words_losses as words

AT_ONCE = 36
"""Batches that are shown together unless all are asked for."""
BOUNDS = (1.0, 2.0, 3.0)
"""Distance from the expected, in sds of chance alone, at which a mark becomes slight, clear and strong."""
MOST_EGGS = 60
"""Eggs from which a mark has its full size."""
SMALLEST, LARGEST = 7, 18
"""Sides of marks in pixels."""
_NO_SD = 1e-9


@dataclass(frozen=True, slots=True)
class Total:
    """Cells taken together: a pen's, a batch's or a machine's.

    Attributes:
        name: label.
        cells: how many.
        below: how many of them lie below what was expected.
        eggs: eggs that entered.
        came: eggs that passed.
        expected: eggs expected to pass.
        residual: (came - expected) / sd of chance and trays' noise alone, which add up as squares.
    """

    name: str
    cells: int
    below: int
    eggs: float
    came: float
    expected: float
    residual: float

    @property
    def difference(self) -> float:
        """Eggs more (or, negative, fewer) than expected."""
        return self.came - self.expected


def total(name: str, cells: Iterable[StripeCell]) -> Total:
    """Cells taken together."""
    found = list(cells)
    came, expected = sum(one.came for one in found), sum(one.expected for one in found)
    sd = math.sqrt(sum(_sd(one) ** 2 for one in found))
    return Total(
        name=name,
        cells=len(found),
        below=sum(one.difference < 0 for one in found),
        eggs=sum(one.eggs for one in found),
        came=came,
        expected=expected,
        residual=(came - expected) / sd if sd > _NO_SD else 0.0,
    )


def _sd(cell: StripeCell) -> float:
    """The sd that a cell's residual was made with; 0 where it cannot be told from a residual of 0."""
    return cell.difference / cell.residual if abs(cell.residual) > _NO_SD else 0.0


def by_pen(stripes: StripeMap, batches: Sequence[StripeBatch]) -> dict[str, Total]:
    """Totals of the pens over some batches, those with eggs in them."""
    return _totals(stripes, batches, lambda cell: cell.pen, stripes.pens)


def by_batch(stripes: StripeMap, batches: Sequence[StripeBatch]) -> dict[str, Total]:
    """Totals of the batches."""
    return _totals(stripes, batches, lambda cell: cell.batch, [one.batch for one in batches])


def by_machine(stripes: StripeMap, batches: Sequence[StripeBatch]) -> dict[str, Total]:
    """Totals of the machines the batches were set in."""
    machine = {one.batch: one.machine for one in batches}
    names = list(dict.fromkeys(machine.values()))
    return _totals(stripes, batches, lambda cell: machine[cell.batch], names)


def _totals(
    stripes: StripeMap,
    batches: Sequence[StripeBatch],
    name_of: Callable[[StripeCell], str],
    names: Sequence[str],
) -> dict[str, Total]:
    shown = {one.batch for one in batches}
    cells: dict[str, list[StripeCell]] = {name: [] for name in names}
    for cell in stripes.cells:
        if cell.batch in shown:
            cells[name_of(cell)].append(cell)
    return {name: total(name, found) for name, found in cells.items() if found}


def most_pens_first(stripes: StripeMap, batches: Sequence[StripeBatch]) -> tuple[StripeBatch, ...]:
    """The batches with the machine of most pens in front; a machine's own keep their order."""
    machine = {one.batch: one.machine for one in batches}
    pens: dict[str, set[str]] = {}
    for cell in stripes.cells:
        if cell.batch in machine:
            pens.setdefault(machine[cell.batch], set()).add(cell.pen)
    return tuple(sorted(batches, key=lambda one: -len(pens.get(one.machine, ()))))


def windows(stripes: StripeMap, at_once: int = AT_ONCE) -> list[tuple[StripeBatch, ...]]:
    """The batches in stretches of time, the latest first; each in the order of the columns."""
    by_time = sorted(stripes.batches, key=lambda one: (one.hatch_on, one.set_on, label_order(one.batch)))
    ends = range(len(by_time), 0, -at_once)
    stretches = [{one.batch for one in by_time[max(end - at_once, 0) : end]} for end in ends]
    return [tuple(one for one in stripes.batches if one.batch in some) for some in stretches]


def strength(residual: float, *, few: bool = False) -> int:
    """0 about as expected, 1 slight, 2 clear, 3 strong; few eggs are slight at most."""
    level = sum(abs(residual) >= bound for bound in BOUNDS)
    return min(level, 1) if few else level


def side(eggs: float) -> int:
    """Side of a mark in pixels: its area goes with the eggs."""
    share = min(max(eggs, 0.0) / MOST_EGGS, 1.0)
    return max(SMALLEST, round(LARGEST * math.sqrt(share)))


def map_html(stripes: StripeMap, batches: Sequence[StripeBatch], summary: str) -> str:
    """The map as a grid whose every mark, name and heading is a button.

    Args:
        stripes: the record.
        batches: the columns to show, of one machine together.
        summary: what the map says, as the grid's name for who cannot see it.
    """
    head = _machine_row(stripes, batches) + _batch_row(stripes, batches)
    body = _sum_row(stripes, batches) + "".join(
        _pen_row(stripes, pen, whole, batches) for pen, whole in by_pen(stripes, batches).items()
    )
    return (
        f"<p class='pw-note pw-map-slide'>{_safe(words.MAP_SLIDE)}</p>"
        f"<div class='pw-map-frame'><table class='pw-map' role='grid' aria-label='{_safe(summary)}'>"
        f"<thead>{head}</thead><tbody>{body}</tbody></table></div>"
        f"<p class='pw-note pw-map-says' aria-hidden='true'>{_safe(words.MAP_HINT)}</p>"
    )


def _machine_row(stripes: StripeMap, batches: Sequence[StripeBatch]) -> str:
    totals = by_machine(stripes, batches)
    heads = "".join(
        f"<th scope='colgroup' role='columnheader' colspan='{len(list(group))}' class='pw-map-machine'>"
        f"{_button(words.machine_label(machine, totals.get(machine)), machine, machine=machine)}</th>"
        for machine, group in groupby(batches, key=lambda one: one.machine)
    )
    corner = f"<td class='pw-map-corner' colspan='2'>{_safe(words.MAP_CORNER)}</td>"
    return f"<tr role='row'>{corner}{heads}</tr>"


def _batch_row(stripes: StripeMap, batches: Sequence[StripeBatch]) -> str:
    totals = by_batch(stripes, batches)
    heads = "".join(
        f"<th scope='col' role='columnheader' class='pw-map-batch{_edge(batches, place)}'>"
        f"{_button(words.batch_label(one, totals.get(one.batch)), one.batch, batch=one.batch)}</th>"
        for place, one in enumerate(batches)
    )
    corner = (
        f"<td class='pw-map-corner'>{_safe(words.COL_BATCH)}</td>"
        f"<th scope='col' role='columnheader' class='pw-map-sum'>{_safe(words.MAP_SUM)}</th>"
    )
    return f"<tr role='row'>{corner}{heads}</tr>"


def _sum_row(stripes: StripeMap, batches: Sequence[StripeBatch]) -> str:
    """All pens of each batch together."""
    totals = by_batch(stripes, batches)
    marks = "".join(
        _place(batches, place, _total_mark(words.batch_label(one, whole), whole, batch=one.batch))
        for place, one in enumerate(batches)
        for whole in (totals.get(one.batch),)
    )
    name = (
        f"<th scope='row' role='rowheader' class='pw-map-name'><span>{_safe(words.MAP_ALL_PENS)}</span></th>"
    )
    return f"<tr role='row' class='pw-map-all'>{name}<td role='gridcell' class='pw-map-sum'></td>{marks}</tr>"


def _pen_row(stripes: StripeMap, pen: str, whole: Total, batches: Sequence[StripeBatch]) -> str:
    cells = {one.batch: one for one in stripes.cells if one.pen == pen}
    label = words.pen_label(whole)
    marks = "".join(
        _place(batches, place, _cell_mark(cells[one.batch], one) if one.batch in cells else "")
        for place, one in enumerate(batches)
    )
    name = f"<th scope='row' role='rowheader' class='pw-map-name'>{_button(label, pen, pen=pen)}</th>"
    total_of = f"<td role='gridcell' class='pw-map-sum'>{_total_mark(label, whole, pen=pen)}</td>"
    return f"<tr role='row'>{name}{total_of}{marks}</tr>"


def _place(batches: Sequence[StripeBatch], place: int, inner: str) -> str:
    return f"<td role='gridcell' class='{_edge(batches, place).strip()}'>{inner}</td>"


def _edge(batches: Sequence[StripeBatch], place: int) -> str:
    """Marks the first column of a machine."""
    is_first = place == 0 or batches[place - 1].machine != batches[place].machine
    return " pw-map-edge" if is_first else ""


def _cell_mark(cell: StripeCell, batch: StripeBatch) -> str:
    return _mark(
        words.cell_label(cell, batch), cell.residual, cell.eggs, few=cell.few, pen=cell.pen, batch=cell.batch
    )


def _total_mark(label: str, whole: Total | None, *, pen: str = "", batch: str = "") -> str:
    return _mark(label, whole.residual, whole.eggs, few=False, pen=pen, batch=batch) if whole else ""


def _mark(label: str, residual: float, eggs: float, *, few: bool, pen: str, batch: str) -> str:
    return _button(label, "", pen=pen, batch=batch, inner=mark_html(residual, eggs, few=few))


def mark_html(residual: float, eggs: float, *, few: bool = False) -> str:
    """One mark by itself, for the map and for its key."""
    level = strength(residual, few=few)
    kind = "near" if level == 0 else f"{'under' if residual < 0 else 'over'} pw-s{level}"
    return f"<i class='pw-mark pw-{kind}{' pw-few' if few else ''}' style='--d:{side(eggs)}px'></i>"


def _button(
    label: str, text: str, *, pen: str = "", batch: str = "", machine: str = "", inner: str = ""
) -> str:
    named = (("pen", pen), ("batch", batch), ("machine", machine))
    asks = "".join(f" data-{kind}='{_safe(name)}'" for kind, name in named if name)
    shown = inner or f"<span>{_safe(text)}</span>"
    return f"<button type='button' tabindex='-1' aria-label='{_safe(label)}'{asks}>{shown}</button>"


def key_html() -> str:
    """How to read the marks."""
    many, few = MOST_EGGS, 10
    shown = (
        (mark_html(-3.5, many) + mark_html(-2.5, many) + mark_html(-1.5, many), words.KEY_FEWER),
        (mark_html(3.5, many) + mark_html(2.5, many) + mark_html(1.5, many), words.KEY_MORE),
        (mark_html(0.0, many), words.KEY_NEAR),
        (mark_html(-2.5, few, few=True), words.KEY_FEW),
    )
    items = "".join(f"<li><span aria-hidden='true'>{marks}</span>{_safe(text)}</li>" for marks, text in shown)
    return f"<ul class='pw-map-key'>{items}</ul>"


def _safe(text: str) -> str:
    return html.escape(text, quote=True)
