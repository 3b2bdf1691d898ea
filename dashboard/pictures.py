"""A chart as a picture file, without a browser: what the page draws is drawn once more, on paper.

Only what our own charts hold is known: lines, marks, fills between lines, bars along a row, lines and boxes
across, texts, and axes with names or numbers.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import plotly.graph_objects as go

from dashboard.look import Look

KINDS = {"svg": "image/svg+xml", "png": "image/png"}
"""Ending of a file -> what it is called on the way (media type)."""
_INCH, _WIDTH, _SHARP = 96.0, 820.0, 192
_LETTERS = 0.72
"""Points of a pixel of lettering on paper."""
_MARKS = {
    "circle": "o", "circle-open": "o", "square": "s", "square-open": "s", "diamond": "D", "diamond-open": "D",
    "x": "X", "cross": "P", "triangle-up": "^", "triangle-down": "v", "triangle-left": "<",
    "triangle-right": ">", "pentagon": "p", "hexagon": "h", "hexagon2": "h", "star": "*", "line-ns": "|",
    "line-ew": "_", "bowtie": "d", "hourglass": "d",
}  # fmt: skip
_DASHES = {"dash": "--", "dot": ":", "dashdot": "-.", "solid": "-"}
_SIDES = {"left": "left", "right": "right", "center": "center", "auto": "center", None: "center"}
_HEIGHTS = {"top": "top", "bottom": "bottom", "middle": "center", "auto": "center", None: "center"}


def as_picture(figure: go.Figure, title: str, kind: str, look: Look) -> bytes:
    """Draws a chart into a file.

    Args:
        figure: one of our charts.
        title: stands above it.
        kind: one of `KINDS`.
        look: its colours.
    """
    told = figure.to_plotly_json()
    height = float(told["layout"].get("height", 400))
    paper = on_paper(_WIDTH, height + 70, title, look)
    axes = _axes(paper, told["layout"], look, height)
    for trace in told["data"]:
        place = axes[trace.get("xaxis") or "x", trace.get("yaxis") or "y"]
        (_bar if trace["type"] == "bar" else _scatter)(place, trace)
    for shape in told["layout"].get("shapes", ()):
        _shape(axes, shape)
    for note in told["layout"].get("annotations", ()):
        _note(axes, note)
    return saved(paper, kind)


def on_paper(width: float, height: float, title: str, look: Look) -> Any:
    """A sheet of so many pixels with its title."""
    from matplotlib.figure import Figure

    paper = Figure(figsize=(width / _INCH, height / _INCH), facecolor=look.paper)
    paper.suptitle(
        _plain(title), x=0.03, y=0.985, ha="left", va="top", color=look.ink, fontsize=11, wrap=True
    )
    return paper


def saved(paper: Any, kind: str) -> bytes:
    """The sheet as the bytes of a file of a kind; the same each time."""
    import matplotlib as mpl

    made = io.BytesIO()
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "penwise"}):
        paper.savefig(made, format=kind, dpi=_SHARP, metadata={"Date": None} if kind == "svg" else None)
    return made.getvalue()


def _axes(paper: Any, layout: Mapping[str, Any], look: Look, height: float) -> dict[tuple[str, str], Any]:
    """A place to draw for every pair of axes, with their numbers and names."""
    found = {}
    below, above = 42 / (height + 70), 1 - 66 / (height + 70)
    end = 0.97 - layout.get("margin", {}).get("r", 0) / _WIDTH
    for name, axis in layout.items():
        number = name.removeprefix("yaxis")
        if not name.startswith("yaxis") or (number and not number.isdigit()):
            continue
        across = layout.get(f"xaxis{number}", {})
        left, right = across.get("domain", (0, 1))
        low, high = axis.get("domain", (0, 1))
        start = 0.03 + _labels(axis)
        place = paper.add_axes(
            (
                start + left * (end - start),
                below + low * (above - below),
                (right - left) * (end - start),
                (high - low) * (above - below),
            ),
            facecolor="none",
        )
        _dress(place.xaxis, across, look)
        _dress(place.yaxis, axis, look)
        for side in place.spines.values():
            side.set_visible(False)
        found[f"x{number}", f"y{number}"] = place
    return found


def _labels(axis: Mapping[str, Any]) -> float:
    """The share of the width that an axis' names take."""
    names = [line for text in axis.get("ticktext") or () for line in _plain(str(text)).split("\n")]
    return min(0.06 + 0.0088 * max((len(line) for line in names), default=0), 0.4)


def _dress(axis: Any, told: Mapping[str, Any], look: Look) -> None:
    """Range, names and lines of an axis."""
    side = "x" if axis.axis_name == "x" else "y"
    place = axis.axes
    if told.get("type") == "log":
        getattr(place, f"set_{side}scale")("log")
    if told.get("type") == "category" and told.get("categoryarray"):
        axis.update_units(list(told["categoryarray"]))
    ends = told.get("range")
    if ends is not None and None not in ends:
        log = told.get("type") == "log"
        getattr(place, f"set_{side}lim")(*[10**end if log else _value(end) for end in ends])
    if told.get("tickvals") is not None:
        axis.set_ticks([_value(value) for value in told["tickvals"]])
    if told.get("ticktext") is not None:
        axis.set_ticklabels([_plain(str(text)) for text in told["ticktext"]])
    elif "%" in str(told.get("tickformat", "")) or told.get("ticksuffix", "").strip() == "%":
        scale = 100 if "%" in str(told.get("tickformat", "")) else 1
        axis.set_major_formatter(lambda value, _: f"{value * scale:.0f} %".replace("-", "−"))
    if told.get("title"):
        axis.set_label_text(_plain(str(told["title"].get("text", ""))), color=look.faded, fontsize=9.5)
    if told.get("showgrid", True):
        axis.grid(color=told.get("gridcolor", look.line), linewidth=0.7)
    place.set_axisbelow(True)
    place.tick_params(axis=side, length=0, labelsize=9.5, labelcolor=look.ink, pad=5)


def _scatter(place: Any, trace: Mapping[str, Any]) -> None:
    mode = trace.get("mode", "lines")
    x, y = _values(trace.get("x")), _values(trace.get("y"))
    line, strength = trace.get("line", {}), trace.get("opacity", 1.0)
    if trace.get("fill") in {"tonexty", "tonextx"} and place.lines_before is not None:
        _fill(place, x, y, trace)
    width = line.get("width", 2)
    if "lines" in mode and width:
        style = _DASHES.get(line.get("dash", "solid"), "--")
        place.plot(x, y, style, color=_colour(line.get("color")), lw=width * _LETTERS, alpha=strength,
                   solid_capstyle="butt", clip_on=trace.get("cliponaxis", True))  # fmt: skip
    if "markers" in mode:
        _marks(place, x, y, trace)
    if "text" in mode:
        for at, text in enumerate(trace.get("text") or ()):
            where = trace.get("textposition", "top center")
            place.annotate(
                _plain(str(text)), (x[at], y[at]), (0, 7 if "top" in where else -7),
                textcoords="offset points", ha="center", va="bottom" if "top" in where else "top", fontsize=9,
                color=trace.get("textfont", {}).get("color"),
            )  # fmt: skip
    place.lines_before = x, y


def _fill(place: Any, x: Sequence[Any], y: Sequence[Any], trace: Mapping[str, Any]) -> None:
    before_x, before_y = place.lines_before
    colour = {"color": _colour(trace.get("fillcolor")), "lw": 0, "zorder": 0.5}
    if trace["fill"] == "tonexty" and list(before_x) == list(x):
        place.fill_between(x, before_y, y, **colour)
    else:
        place.fill([*before_x, *reversed(x)], [*before_y, *reversed(y)], **colour)


def _marks(place: Any, x: Sequence[Any], y: Sequence[Any], trace: Mapping[str, Any]) -> None:
    marker = trace.get("marker", {})
    for at, point in enumerate(zip(x, y, strict=True)):
        symbol = str(_one(marker.get("symbol", "circle"), at))
        colour, line = _colour(_one(marker.get("color"), at)), marker.get("line", {})
        edge = _colour(line["color"]) if line.get("color") else colour
        is_open = symbol.endswith("-open") or symbol.startswith("line-")
        place.plot(
            *point, _MARKS.get(symbol, "o"), ms=_one(marker.get("size", 8), at) * _LETTERS,
            mfc="none" if is_open else colour, mec=edge, mew=_one(line.get("width", 1), at) * _LETTERS,
            alpha=_one(marker.get("opacity", 1), at) * trace.get("opacity", 1.0),
            clip_on=trace.get("cliponaxis", True), zorder=3,
        )  # fmt: skip


def _bar(place: Any, trace: Mapping[str, Any]) -> None:
    marker, x, y = trace.get("marker", {}), _values(trace.get("x")), _values(trace.get("y"))
    start, edge = trace.get("base", 0), marker.get("line", {})
    pattern = marker.get("pattern", {}).get("shape")
    for at, (length, row) in enumerate(zip(x, y, strict=True)):
        along = trace.get("orientation") == "h"
        draw = place.barh if along else place.bar
        thick = _one(trace.get("width", 0.8), at)
        draw(
            row if along else length, length if along else row, thick,
            **{"left" if along else "bottom": _one(start, at)}, color=_colour(_one(marker.get("color"), at)),
            alpha=trace.get("opacity", 1.0), hatch="//" if pattern else None, zorder=2,
            edgecolor=_colour(edge.get("color")), linewidth=_one(edge.get("width", 0), at) * _LETTERS,
        )  # fmt: skip


def _shape(axes: Mapping[tuple[str, str], Any], shape: Mapping[str, Any]) -> None:
    across, up = shape.get("xref", "x"), shape.get("yref", "y")
    place = _place(axes, across, up)
    line, strength = shape.get("line", {}), shape.get("opacity", 1.0)
    x0, x1, y0, y1 = (_value(shape[name]) for name in ("x0", "x1", "y0", "y1"))
    look = {
        "color": _colour(line.get("color")), "lw": line.get("width", 1) * _LETTERS, "alpha": strength,
        "ls": _DASHES.get(line.get("dash", "solid"), "--"), "zorder": 1,
    }  # fmt: skip
    if shape.get("type") == "line" and x0 == x1:
        place.axvline(x0, *((y0, y1) if _of_paper(up) else (0, 1)), **look)
    elif shape.get("type") == "line":
        place.axhline(y0, *((x0, x1) if _of_paper(across) else (0, 1)), **look)
    else:
        colour = {"color": _colour(shape.get("fillcolor")), "lw": 0, "alpha": strength, "zorder": 0.4}
        if _of_paper(across):
            place.axhspan(y0, y1, x0, x1, **colour)
        else:
            place.axvspan(x0, x1, *((y0, y1) if _of_paper(up) else (0, 1)), **colour)


def _note(axes: Mapping[tuple[str, str], Any], note: Mapping[str, Any]) -> None:
    across, up = note.get("xref", "x"), note.get("yref", "y")
    place = _place(axes, across, up)
    coordinates = (
        "axes fraction" if _of_paper(across) else "data",
        "axes fraction" if _of_paper(up) else "data",
    )
    font = note.get("font", {})
    place.annotate(
        _plain(str(note["text"])), (_value(note["x"]), _value(note["y"])), xycoords=coordinates,
        xytext=tuple(note.get(shift, 0) * _LETTERS for shift in ("xshift", "yshift")),
        textcoords="offset points",
        ha=_SIDES.get(note.get("xanchor")), va=_HEIGHTS.get(note.get("yanchor")), color=font.get("color"),
        fontsize=font.get("size", 13) * _LETTERS, annotation_clip=False,
    )  # fmt: skip


def _of_paper(reference: str) -> bool:
    return reference == "paper" or reference.endswith(" domain")


def _place(axes: Mapping[tuple[str, str], Any], across: str, up: str) -> Any:
    """The place that a shape or a note lies in; the first where it lies on the paper."""
    for (x, y), place in axes.items():
        if across.removesuffix(" domain") in {x, "paper"} and up.removesuffix(" domain") in {y, "paper"}:
            return place
    return next(iter(axes.values()))


def _values(given: Any) -> list[Any]:
    return [] if given is None else [_value(value) for value in given]


def _value(value: Any) -> Any:
    """A number, a name, or a day where a text is one."""
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}([T ].*)?", value):
        return date.fromisoformat(value[:10])
    return value


def _one(given: Any, at: int) -> Any:
    """The value of one mark, where a row of them may be given."""
    return given[at] if isinstance(given, (list, tuple)) or hasattr(given, "tolist") else given


def _colour(given: Any) -> Any:
    """A colour as matplotlib reads it."""
    if isinstance(given, str) and given.startswith("rgba"):
        *colour, strength = (float(part) for part in given[5:-1].split(","))
        return (*(part / 255 for part in colour), strength)
    return given or "none"


def _plain(text: str) -> str:
    """Text without its mark-up."""
    broken = re.sub(r"<br\s*/?>", "\n", text)
    bare = re.sub(r"<[^>]+>", "", broken)
    return bare.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&").replace("$", r"\$")
