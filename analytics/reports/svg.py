"""Small pictures of rates as inline SVG: they need no script, no font and no file from elsewhere.

Colours come from the page's style by class, so that a picture follows light, dark and paper. What a mark
means never hangs on colour: the month asked about is a filled square, others are rings; what is open is a
broad pale bar, the range a thin line with ends.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from analytics.studies.signal_records import Point
from analytics.studies.wording import percent, rate_words, short_month
from analytics.values import Rate

WIDTH = 480
"""Width of a picture in its own units; the page scales it."""
_LEFT, _RIGHT, _TOP = 50, 10, 14
_MONTHS_HEIGHT, _MONTHS_FLOOR = 230, 186
_ROW = 34
_LEAST_SPAN = 0.4
_PEN_LABEL = 118
_LONGEST_LABEL = 15
_Place = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Mark:
    """One rate in a picture.

    Attributes:
        label: month or pen.
        below: second line under or beside the label, or "".
        rate: what is drawn; None = nothing recorded.
        earlier: a rate to set beside it, drawn as a small ring, or None.
        now: whether it is the one the page is about.
    """

    label: str
    below: str
    rate: Rate | None
    earlier: Rate | None = None
    now: bool = False


def months_picture(title: str, marks: Sequence[Mark], aim: float | None) -> Markup:
    """Rates side by side in time, each with its range.

    Args:
        title: read out by a screen reader, with every rate in words.
        marks: oldest first.
        aim: the breeder's own aim as a share, or None.
    """
    low, high = _axis(marks, aim)
    step = (WIDTH - _LEFT - _RIGHT) / max(len(marks), 1)

    def y(share: float) -> float:
        return _MONTHS_FLOOR - (share - low) / (high - low) * (_MONTHS_FLOOR - _TOP)

    parts = [_grid_line(share, y(share)) for share in _ticks(low, high)]
    if aim is not None:
        parts.append(_line("aim", _LEFT, y(aim), WIDTH - _RIGHT, y(aim)))
    for i, mark in enumerate(marks):
        x = _LEFT + step * (i + 0.5)
        parts += _upright(mark, x, y)
        parts.append(_text(x, _MONTHS_FLOOR + 20, mark.label, "name now" if mark.now else "name"))
        parts.append(_text(x, _MONTHS_FLOOR + 36, mark.below, "small"))
    return _picture(title, marks, _MONTHS_HEIGHT, parts)


def pens_picture(title: str, marks: Sequence[Mark], aim: float | None) -> Markup:
    """Rates one below another with their ranges, each with its year before as a ring.

    Args:
        title: read out by a screen reader, with every rate in words.
        marks: top to bottom.
        aim: the breeder's own aim as a share, or None.
    """
    low, high = _axis(marks, aim)
    floor = _TOP + _ROW * len(marks)

    def x(share: float) -> float:
        return _PEN_LABEL + (share - low) / (high - low) * (WIDTH - _PEN_LABEL - 22)

    parts = [_grid_upright(share, x(share), floor) for share in _ticks(low, high)]
    if aim is not None:
        parts.append(_line("aim", x(aim), _TOP - 6, x(aim), floor))
    for i, mark in enumerate(marks):
        y = _TOP + _ROW * (i + 0.5)
        parts.append(_text(_PEN_LABEL - 12, y - 1, _shortened(mark.label), "pen"))
        parts.append(_text(_PEN_LABEL - 12, y + 13, mark.below, "small pen"))
        parts += _lying(mark, y, x)
    return _picture(title, marks, floor + 26, parts)


def signal_picture(title: str, points: Sequence[Point]) -> Markup:
    """The months of a watched pen, machine or flock with their limits; a diamond is outside them.

    Args:
        title: read out by a screen reader, with every month in words.
        points: oldest first.
    """
    ends = [end for one in points for end in (one.rate, one.low, one.high) if end is not None]
    low, high = _tenths(ends)
    step = (WIDTH - _LEFT - _RIGHT) / max(len(points), 1)

    def y(share: float) -> float:
        return _MONTHS_FLOOR - (share - low) / (high - low) * (_MONTHS_FLOOR - _TOP)

    parts = [_grid_line(share, y(share)) for share in _ticks(low, high)]
    for i, one in enumerate(points):
        x, year = _LEFT + step * (i + 0.5), i in (0, len(points) - 1) or one.month.month == 1
        parts += _watched(one, x, step, y)
        last = i == len(points) - 1
        parts.append(_text(x, _MONTHS_FLOOR + 20, short_month(one.month), "name now" if last else "name"))
        parts.append(_text(x, _MONTHS_FLOOR + 36, str(one.month.year) if year else "", "small"))
    return _svg(f"{title}. {'; '.join(map(_point_words, points))}", _MONTHS_HEIGHT, parts)


def _watched(one: Point, x: float, step: float, y: _Place) -> list[Markup]:
    parts = []
    if one.low is not None and one.high is not None:
        parts.append(_bar(x - step / 2 + 1, y(one.high), step - 2, y(one.low) - y(one.high)))
    if one.expected is not None:
        parts.append(_line("usual", x - step / 2 + 1, y(one.expected), x + step / 2 - 1, y(one.expected)))
    if one.rate is None:
        parts.append(_text(x, _MONTHS_FLOOR - 6, "–", "small"))
    elif one.out:
        parts.append(_diamond(x, y(one.rate)))
    else:
        parts.append(_dot(x, y(one.rate), now=False))
    return parts


def _point_words(one: Point) -> str:
    when = f"{short_month(one.month)} {one.month.year}"
    if one.rate is None:
        return f"{when}: no eggs"
    said = f"{when}: {percent(one.rate)} % of {round(one.eggs):,} eggs"
    if one.low is not None and one.high is not None:
        said += f", limits {percent(one.low)} to {percent(one.high)} %"
    return f"{said}, outside" if one.out else said


def _axis(marks: Sequence[Mark], aim: float | None) -> tuple[float, float]:
    """Tenths that hold everything drawn, at least `_LEAST_SPAN` apart."""
    return _tenths([end for mark in marks for end in _ends(mark)] + ([aim] if aim is not None else []))


def _tenths(ends: Sequence[float]) -> tuple[float, float]:
    low = math.floor(min(ends, default=0.0) * 10) / 10
    high = math.ceil(max(ends, default=1.0) * 10) / 10
    while high - low < _LEAST_SPAN - 1e-9:
        low, high = max(low - 0.1, 0.0), min(high + 0.1, 1.0)
    return round(low, 1), round(high, 1)


def _ends(mark: Mark) -> list[float]:
    ends = []
    for rate in (mark.rate, mark.earlier):
        if rate is not None and rate.value is not None:
            ends.append(rate.value)
    if mark.rate is not None:
        for interval in (mark.rate.interval, mark.rate.possible):
            ends += [interval.low, interval.high] if interval else []
    return ends


def _ticks(low: float, high: float) -> list[float]:
    step = 0.1 if high - low < 0.55 else 0.2
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(i * step, 1) for i in range(first, last + 1)]


def _upright(mark: Mark, x: float, y: _Place) -> list[Markup]:
    rate = mark.rate
    if rate is None or rate.interval is None:
        return [_text(x, _MONTHS_FLOOR - 6, "–", "small")]
    parts = []
    if rate.possible and rate.possible.high > rate.possible.low:
        top, foot = y(rate.possible.high), y(rate.possible.low)
        parts.append(_bar(x - 6, top, 12, foot - top))
    top, foot = y(rate.interval.high), y(rate.interval.low)
    parts.append(_line("range", x, top, x, foot))
    parts += [_line("range", x - 4, end, x + 4, end) for end in (top, foot)]
    if rate.value is not None:
        parts.append(_dot(x, y(rate.value), mark.now))
    return parts


def _lying(mark: Mark, y: float, x: _Place) -> list[Markup]:
    rate = mark.rate
    if rate is None or rate.interval is None:
        return [_text(_PEN_LABEL + 6, y + 4, "not known", "small start")]
    parts = []
    if rate.possible and rate.possible.high > rate.possible.low:
        left, right = x(rate.possible.low), x(rate.possible.high)
        parts.append(_bar(left, y - 6, right - left, 12))
    left, right = x(rate.interval.low), x(rate.interval.high)
    parts.append(_line("range", left, y, right, y))
    parts += [_line("range", end, y - 4, end, y + 4) for end in (left, right)]
    if mark.earlier is not None and mark.earlier.value is not None:
        parts.append(_ring(x(mark.earlier.value), y))
    if rate.value is not None:
        parts.append(_dot(x(rate.value), y, now=True))
    return parts


def _picture(title: str, marks: Sequence[Mark], height: float, parts: Sequence[Markup]) -> Markup:
    told = "; ".join(f"{mark.label} {mark.below}: {_in_words(mark.rate)}" for mark in marks)
    return _svg(f"{title}. {told}", height, parts)


def _svg(label: str, height: float, parts: Sequence[Markup]) -> Markup:
    return Markup(
        '<svg class="picture" viewBox="0 0 {w} {h}" role="img" aria-label="{label}">{parts}</svg>'
    ).format(w=WIDTH, h=_number(height), label=label, parts=Markup("").join(parts))


def _in_words(rate: Rate | None) -> str:
    return rate_words(rate) if rate else "nothing recorded"


def _grid_line(share: float, y: float) -> Markup:
    label = _text(_LEFT - 8, y + 5, f"{percent(share)} %", "tick")
    return _line("grid", _LEFT, y, WIDTH - _RIGHT, y) + label


def _grid_upright(share: float, x: float, floor: float) -> Markup:
    label = _text(x, floor + 18, f"{percent(share)} %", "name")
    return _line("grid", x, _TOP - 6, x, floor) + label


def _line(kind: str, x1: float, y1: float, x2: float, y2: float) -> Markup:
    return Markup('<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>').format(
        kind, *map(_number, (x1, y1, x2, y2))
    )


def _bar(x: float, y: float, width: float, height: float) -> Markup:
    return Markup('<rect class="open" x="{}" y="{}" width="{}" height="{}" rx="3"/>').format(
        *map(_number, (x, y, width, height))
    )


def _dot(x: float, y: float, now: bool) -> Markup:
    if now:
        corner = map(_number, (x - 5, y - 5))
        return Markup('<rect class="now" x="{}" y="{}" width="10" height="10" rx="1"/>').format(*corner)
    return Markup('<circle class="dot" cx="{}" cy="{}" r="4"/>').format(_number(x), _number(y))


def _diamond(x: float, y: float) -> Markup:
    corners = ((x, y - 7), (x + 7, y), (x, y + 7), (x - 7, y))
    drawn = " ".join(f"{_number(across)},{_number(down)}" for across, down in corners)
    return Markup('<polygon class="out" points="{}"/>').format(drawn)


def _ring(x: float, y: float) -> Markup:
    return Markup('<circle class="ring" cx="{}" cy="{}" r="5.5"/>').format(_number(x), _number(y))


def _text(x: float, y: float, words: str, kind: str) -> Markup:
    return Markup('<text class="{}" x="{}" y="{}">{}</text>').format(
        kind, _number(x), _number(y), escape(words)
    )


def _shortened(label: str) -> str:
    return label if len(label) <= _LONGEST_LABEL else label[: _LONGEST_LABEL - 1] + "…"


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
