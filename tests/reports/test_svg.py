"""Pictures of rates: marks stand where the numbers are."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analytics.measures.counts import Families, LadderCounts, Stages
from analytics.measures.ladder import rates
from analytics.reports.svg import Mark, months_picture, pens_picture, signal_picture
from analytics.studies.signal_records import Point
from analytics.values import Interval, Month, Rate, Used

_COUNTS = LadderCounts(
    Used(1, 1, 0), eggs_set=10, hatched=5, opened=Stages(infertile=5), tray_squares=100, batch_squares=100
)
PLAIN = rates(Families(_COUNTS, _COUNTS, _COUNTS, _COUNTS, _COUNTS), {})["hatch_of_set"]


def _rate(value: float | None, low: float, high: float, possible: tuple[float, float] | None = None) -> Rate:
    left_open = Interval(*possible, 1.0, "") if possible else Interval(value or 0, value or 0, 1.0, "")
    return replace(PLAIN, value=value, interval=Interval(low, high, 0.95, ""), possible=left_open)


def _numbers(picture: str, tag: str, kind: str, *names: str) -> list[tuple[float, ...]]:
    marks = re.findall(rf'<{tag} class="{kind}"([^>]*)/>', picture)
    return [tuple(float(re.findall(rf'\b{name}="([^"]+)"', mark)[0]) for name in names) for mark in marks]


def _tick_places(picture: str, axis: str) -> dict[int, float]:
    """Where the axis says each per cent is, from its printed numbers."""
    kind = "tick" if axis == "y" else "name"
    found = re.findall(rf'<text class="{kind}" x="([^"]+)" y="([^"]+)">(\d+) %</text>', picture)
    return {int(words): float(y) - 5 if axis == "y" else float(x) for x, y, words in found}


def test_a_month_stands_at_its_height() -> None:
    picture = str(months_picture("t", [Mark("Mar", "2026", _rate(0.7, 0.6, 0.8))], aim=0.9))
    place = _tick_places(picture, "y")
    ((_, y),) = _numbers(picture, "circle", "dot", "cx", "cy")
    assert y == pytest.approx(place[70], abs=0.2)
    tops = {y1 for y1, y2 in _numbers(picture, "line", "range", "y1", "y2") if y1 == y2}
    assert sorted(tops) == pytest.approx(sorted((place[80], place[60])), abs=0.2)
    ((aim,),) = _numbers(picture, "line", "aim", "y1")
    assert aim == pytest.approx(place[90], abs=0.2)


def test_what_is_open_is_a_broad_bar_without_a_dot() -> None:
    mark = Mark("Mar", "", _rate(None, 0.5, 0.9, possible=(0.6, 0.8)))
    picture = str(months_picture("t", [mark], aim=None))
    place = _tick_places(picture, "y")
    ((y, height, width),) = _numbers(picture, "rect", "open", "y", "height", "width")
    assert (y, y + height) == pytest.approx((place[80], place[60]), abs=0.2)
    assert width == 12
    assert 'class="dot"' not in picture


def test_pens_lie_in_the_order_given_with_their_year_as_a_ring() -> None:
    marks = [
        Mark("Rowan", "9 eggs", _rate(0.7, 0.6, 0.8), _rate(0.5, 0.4, 0.6), now=True),
        Mark("Alder", "5 eggs", None),
    ]
    picture = str(pens_picture("t", marks, aim=None))
    place = _tick_places(picture, "x")
    ((corner,),) = _numbers(picture, "rect", "now", "x")
    assert corner + 5 == pytest.approx(place[70], abs=0.2)
    ((ring,),) = _numbers(picture, "circle", "ring", "cx")
    assert ring == pytest.approx(place[50], abs=0.2)
    assert picture.index("Rowan</text>") < picture.index("Alder</text>")
    assert "not known</text>" in picture


@pytest.mark.parametrize("value", [0.0, 1.0])
def test_the_axis_never_leaves_nothing_to_all(value: float) -> None:
    picture = str(months_picture("t", [Mark("Mar", "", _rate(value, value, value))], aim=None))
    ticks = _tick_places(picture, "y")
    assert min(ticks) >= 0
    assert max(ticks) <= 100
    assert len(ticks) >= 4


def test_no_marks_are_a_picture_too_and_labels_are_escaped() -> None:
    assert str(pens_picture("none", [], aim=None)).count("<svg") == 1
    picture = str(months_picture('a "b"', [Mark("<M>", "&", None)], aim=None))
    assert "<M>" not in picture
    assert "&lt;M&gt;</text>" in picture
    assert 'aria-label="a &#34;b&#34;.' in picture


def test_a_watched_month_stands_at_its_height_between_its_limits_and_a_diamond_is_outside() -> None:
    points = (
        Point(Month(2026, 6), 60, 0.9, 0.9, 0.8, 1.0, out=False),
        Point(Month(2026, 7), 0, None, 0.9, 0.8, 1.0, out=False),
        Point(Month(2026, 8), 60, 0.5, 0.9, 0.7, 1.0, out=True),
    )
    picture = str(signal_picture("Fertility of pen <A>", points))
    place = _tick_places(picture, "y")
    ((_, dot),) = _numbers(picture, "circle", "dot", "cx", "cy")
    assert dot == pytest.approx(place[90], abs=0.1)
    tops = _numbers(picture, "rect", "open", "y", "height")
    assert [top for top, _ in tops] == pytest.approx([place[100]] * 3, abs=0.1)
    assert tops[-1][1] == pytest.approx(place[70] - place[100], abs=0.1)
    (corners,) = re.findall(r'<polygon class="out" points="([^"]+)"', picture)
    assert sum(float(corner.split(",")[1]) for corner in corners.split()) / 4 == pytest.approx(
        place[50], abs=0.1
    )
    assert (
        "Fertility of pen &lt;A&gt;. Jun 2026: 90 % of 60 eggs, limits 80 to 100 %; Jul 2026: no eggs; "
        in picture
    )
    assert "Aug 2026: 50 % of 60 eggs, limits 70 to 100 %, outside" in picture
