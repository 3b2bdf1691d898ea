"""Colours and letters of the dashboard: eggshell paper by day, ink by night."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Look:
    """The colours of one light; text on paper or card has a contrast of at least 4.5 to 1.

    Attributes:
        paper: background of the page.
        card: background of boxes, table heads and fields.
        ink: text.
        faded: secondary text.
        line: rules and borders.
        band: the ground of a range in a picture.
        accent: links, buttons and the month asked about.
        on_accent: text on the accent.
        aim: the breeder's own aim.
        warning: what is overdue or refused.
        pens: one colour per pen in turn, told apart without red-green or blue-yellow vision.
        fewer: fewer chicks than expected, from slight to strong; the other way at the same strength is as
            light or dark, so that grey keeps the strength and the shape of the mark the direction.
        more: more chicks than expected, likewise.
    """

    paper: str
    card: str
    ink: str
    faded: str
    line: str
    band: str
    accent: str
    on_accent: str
    aim: str
    warning: str
    pens: tuple[str, ...]
    fewer: tuple[str, str, str]
    more: tuple[str, str, str]


DAY = Look(
    paper="#F7F5EC",
    card="#EFECDF",
    ink="#23303A",
    faded="#56626B",
    line="#D6D1C0",
    band="#D6D1C0",
    accent="#1F5D63",
    on_accent="#F7F5EC",
    aim="#8A5A00",
    warning="#9C2F1B",
    pens=("#6F77A8", "#7A2A08", "#1E9469", "#4F2239", "#A37F12", "#262B83"),
    fewer=("#E0A987", "#BE6230", "#6E2406"),
    more=("#9FC0D2", "#4585AB", "#17405F"),
)
NIGHT = Look(
    paper="#161B1E",
    card="#1F262A",
    ink="#E9E4D5",
    faded="#A9AFA8",
    line="#3A4446",
    band="#3A4446",
    accent="#8CC5BE",
    on_accent="#161B1E",
    aim="#E0B354",
    warning="#F0937C",
    pens=("#1F80E0", "#C9593C", "#C6F1C6", "#8F6582", "#F1DD6C", "#4FDDF5"),
    fewer=("#7A4A33", "#C87346", "#FFC7A6"),
    more=("#36596F", "#5A97BE", "#B9E2FA"),
)
HIGH_DAY = Look(
    paper="#FFFFFF",
    card="#F0F0F0",
    ink="#000000",
    faded="#1F2A33",
    line="#4A4A4A",
    band="#D9D9D9",
    accent="#00363B",
    on_accent="#FFFFFF",
    aim="#4A3000",
    warning="#7A1606",
    pens=("#8800E8", "#661225", "#1E806D", "#3A0038", "#60651C", "#4E287B"),
    fewer=("#C7784D", "#A05228", "#592E17"),
    more=("#5992B4", "#396D8C", "#1F3C4D"),
)
"""High contrast by day: text has 7 to 1 at least, and so have lines."""
HIGH_NIGHT = Look(
    paper="#000000",
    card="#1A1A1A",
    ink="#FFFFFF",
    faded="#DCE2DC",
    line="#B0B0B0",
    band="#3D3D3D",
    accent="#A8F0E6",
    on_accent="#000000",
    aim="#FFD56B",
    warning="#FFB3A1",
    pens=("#C05FF7", "#D45B24", "#C6F1C6", "#B64FA3", "#FFB426", "#4FDDF5"),
    fewer=("#AC633C", "#D4906D", "#E5BCA6"),
    more=("#4A7C9C", "#71A6C7", "#A8C8DD"),
)
"""High contrast by night."""
SYMBOLS = ("circle", "square", "diamond", "triangle-up", "cross")
"""When there are more pens than colours, the mark changes with every round."""
SYMBOL_LETTERS = dict(zip(SYMBOLS, "●■◆▲✚", strict=True))
"""The same marks as letters, for a key in words."""
LETTERS = "'Source Sans', 'Source Sans Pro', sans-serif"
"""Comes with Streamlit, so nothing is fetched."""


def look_for(kind: str | None, *, high: bool = False) -> Look:
    """The look for a browser that shows "dark" or anything else, with high contrast or without."""
    if high:
        return HIGH_NIGHT if kind == "dark" else HIGH_DAY
    return NIGHT if kind == "dark" else DAY


def pen_colour(look: Look, place: int) -> str:
    """The colour of the pen that was entered `place` pens after the first one."""
    return look.pens[place % len(look.pens)]


def pen_symbol(place: int) -> str:
    """The mark of the pen that was entered `place` pens after the first one."""
    return SYMBOLS[place // len(DAY.pens) % len(SYMBOLS)]


def theme_options() -> dict[str, str | int | bool | list[str]]:
    """The look as options of Streamlit, dots written as underscores."""
    options: dict[str, str | int | bool | list[str]] = {
        "theme_font": "sans-serif",
        "theme_headingFont": "serif",
        "theme_headingFontWeights": 600,
        "theme_headingFontSizes": ["2.1rem", "1.55rem", "1.2rem", "1.05rem", "1rem", "1rem"],
        "theme_baseRadius": "4px",
        "theme_baseFontSize": 17,
        "theme_linkUnderline": True,
        "theme_paddingTop": "1.5rem",
        "theme_paddingBottom": "4rem",
    }
    for name, look in (("light", DAY), ("dark", NIGHT)):
        options |= {
            f"theme_{name}_primaryColor": look.accent,
            f"theme_{name}_backgroundColor": look.paper,
            f"theme_{name}_secondaryBackgroundColor": look.card,
            f"theme_{name}_textColor": look.ink,
            f"theme_{name}_linkColor": look.accent,
            f"theme_{name}_borderColor": look.line,
        }
    return options
