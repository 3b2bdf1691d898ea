"""Charts as picture files: made without a browser, with everything that the page shows."""

from __future__ import annotations

import struct
import xml.etree.ElementTree as ET

import plotly.graph_objects as go
import pytest

from dashboard.charts import blank
from dashboard.look import DAY, NIGHT
from dashboard.pictures import KINDS, as_picture

SVG = "{http://www.w3.org/2000/svg}"


def _figure() -> go.Figure:
    """A range, marks of two kinds, bars, a band between lines, a line across and a note."""
    figure = blank(DAY, height=300)
    figure.add_trace(go.Scatter(x=[0.2, 0.8], y=[0, 0], mode="lines", line={"color": "#1F5D63", "width": 3}))
    figure.add_trace(
        go.Scatter(x=[0.5, 0.6], y=[0, 1], mode="markers+text", text=["A <b>", "B"],
                   marker={"symbol": ["circle", "x"], "size": [8, 12], "color": "#7A2A08"})
    )  # fmt: skip
    figure.add_trace(go.Scatter(x=[0, 1], y=[0.2, 0.2], mode="lines", line={"width": 0}))
    figure.add_trace(go.Scatter(x=[0, 1], y=[0.4, 0.4], mode="lines", fill="tonexty", fillcolor="#D6D1C0"))
    figure.add_trace(
        go.Bar(x=[0.3], y=[2], orientation="h", base=[0.1], width=0.5, marker={"color": "#4585AB"})
    )
    figure.add_vline(x=0.75, line={"color": "#8A5A00", "dash": "dash"})
    figure.add_annotation(x=0.75, y=1, yref="paper", text="your aim 75 %", showarrow=False)
    figure.update_xaxes(range=[0, 1], tickformat=".0%")
    figure.update_yaxes(tickvals=[0, 1, 2], ticktext=["Alder &amp; Co<br>12 eggs", "Birch", "$ Cedar $"])
    return figure


def _texts(made: bytes) -> str:
    return " ".join("".join(one.itertext()) for one in ET.fromstring(made).iter(f"{SVG}text"))


def test_a_drawing_holds_names_notes_and_title_as_text() -> None:
    said = _texts(as_picture(_figure(), "Fertility, % of fertile & set", "svg", DAY))
    for text in ("Alder & Co", "12 eggs", "Birch", "$ Cedar $", "your aim 75 %", "40 %",
                 "Fertility, % of fertile & set"):  # fmt: skip
        assert text in said


def test_a_drawing_is_the_same_each_time_and_names_no_day() -> None:
    one, other = (as_picture(_figure(), "T", "svg", DAY) for _ in range(2))
    assert one == other
    assert b"<dc:date>" not in one


@pytest.mark.parametrize("look", [DAY, NIGHT], ids=["day", "night"])
def test_an_image_has_its_size_and_the_paper_of_the_light(look: object) -> None:
    made = as_picture(_figure(), "T", "png", look)  # type: ignore[arg-type]
    assert made.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", made[16:24])
    assert (width, height) == (1640, 740), "820 x 370 pixels, twice as sharp"


def test_both_kinds_are_known() -> None:
    assert set(KINDS) == {"svg", "png"}
    empty = blank(DAY, height=200)
    for kind in KINDS:
        assert as_picture(empty, "nothing yet", kind, DAY)
