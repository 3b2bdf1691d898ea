"""Colours: text can be read, and pens are told apart by eyes of every kind."""

from __future__ import annotations

import itertools
import math
from string import Template

import pytest

from dashboard.components.frame import FOLDER
from dashboard.look import (
    DAY,
    HIGH_DAY,
    HIGH_NIGHT,
    NIGHT,
    SYMBOLS,
    Look,
    look_for,
    pen_colour,
    pen_symbol,
    theme_options,
)

LOOKS = pytest.mark.parametrize(
    "look", [DAY, NIGHT, HIGH_DAY, HIGH_NIGHT], ids=["day", "night", "high day", "high night"]
)
HIGH = pytest.mark.parametrize("look", [HIGH_DAY, HIGH_NIGHT], ids=["day", "night"])

# Machado, Oliveira and Fernandes (2009), IEEE Transactions on Visualization and Computer Graphics 15(6),
# severity 1.0, applied to linear RGB. Protan and deutan SEEN in open shader sources, tritan from MEMORY.
SEEN_AS = {
    "all colours": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
               (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
               (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602),
               (0.004733, 0.691367, 0.303900)),
}  # fmt: skip


def _linear(colour: str) -> tuple[float, ...]:
    parts = (int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5))
    return tuple(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)


def _contrast(first: str, second: str) -> float:
    """W3C, Web Content Accessibility Guidelines 2.2, "contrast ratio" (MEMORY)."""
    dark, light = sorted(
        sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), _linear(colour), strict=True))
        for colour in (first, second)
    )
    return (light + 0.05) / (dark + 0.05)


def _lab(colour: str, eye: str) -> tuple[float, float, float]:
    """CIE 1976 L*a*b* with the D65 white of sRGB (IEC 61966-2-1; MEMORY)."""
    linear = _linear(colour)
    r, g, b = (
        min(max(sum(w * part for w, part in zip(row, linear, strict=True)), 0), 1) for row in SEEN_AS[eye]
    )
    xyz = (
        (0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / 0.95047,
        0.2126729 * r + 0.7151522 * g + 0.0721750 * b,
        (0.0193339 * r + 0.1191920 * g + 0.9503041 * b) / 1.08883,
    )
    x, y, z = (part ** (1 / 3) if part > 0.008856 else 7.787 * part + 16 / 116 for part in xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def test_the_contrast_formula_knows_black_on_white_and_the_known_grey() -> None:
    assert _contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    # #767676 on white is the well-known lightest grey of level AA: 4.54 (MEMORY).
    assert _contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)


@LOOKS
@pytest.mark.parametrize("ground", ["paper", "card"])
@pytest.mark.parametrize("text", ["ink", "faded", "accent", "aim", "warning"])
def test_text_can_be_read(look: Look, ground: str, text: str) -> None:
    assert _contrast(getattr(look, text), getattr(look, ground)) >= 4.5


@HIGH
@pytest.mark.parametrize("text", ["ink", "faded", "accent", "aim", "warning", "line"])
def test_in_high_contrast_text_and_lines_have_seven_to_one(look: Look, text: str) -> None:
    """Level AAA of the guidelines: 7 to 1 (MEMORY)."""
    assert min(_contrast(getattr(look, text), ground) for ground in (look.paper, look.card)) >= 7
    assert min(_contrast(pen, look.paper) for pen in look.pens) >= 4.5


@LOOKS
def test_text_on_the_accent_can_be_read(look: Look) -> None:
    assert _contrast(look.on_accent, look.accent) >= 4.5


def test_the_paper_uses_every_colour_of_its_letters() -> None:
    """A colour of which the contrast is tested above must be the one on the page."""
    sheet = Template((FOLDER / "paper.css").read_text(encoding="utf-8"))
    assert {"paper", "card", "ink", "faded", "line", "accent", "on_accent", "warning"} <= set(
        sheet.get_identifiers()
    )


@LOOKS
def test_pens_stand_out_from_the_paper(look: Look) -> None:
    assert min(_contrast(colour, look.paper) for colour in look.pens) >= 3.0


@LOOKS
@pytest.mark.parametrize("eye", sorted(SEEN_AS))
def test_pens_are_told_apart_by_every_eye(look: Look, eye: str) -> None:
    nearest = min(
        math.dist(_lab(one, eye), _lab(other, eye)) for one, other in itertools.combinations(look.pens, 2)
    )
    assert nearest >= 20


@LOOKS
@pytest.mark.parametrize("way", ["fewer", "more"])
def test_stronger_marks_stand_out_more_from_the_paper(look: Look, way: str) -> None:
    slight, clear, strong = (_contrast(colour, look.paper) for colour in getattr(look, way))
    assert slight < clear < strong
    assert clear >= 3.0  # the line about a slight mark has the clear colour


@LOOKS
def test_grey_keeps_the_strength_and_leaves_the_direction_to_the_shape(look: Look) -> None:
    for fewer, more in zip(look.fewer, look.more, strict=True):
        assert _contrast(fewer, more) < 1.15


@LOOKS
@pytest.mark.parametrize("eye", sorted(SEEN_AS))
def test_fewer_and_more_are_told_apart_by_every_eye(look: Look, eye: str) -> None:
    apart = [
        math.dist(_lab(fewer, eye), _lab(more, eye))
        for fewer, more in zip(look.fewer, look.more, strict=True)
    ]
    assert min(apart) >= 20


def test_thirty_pens_have_thirty_marks() -> None:
    marks = {(pen_colour(DAY, place), pen_symbol(place)) for place in range(len(DAY.pens) * len(SYMBOLS))}
    assert len(marks) == 30
    assert pen_symbol(30) == pen_symbol(0)


def test_only_dark_is_night() -> None:
    assert look_for("dark") is NIGHT
    assert look_for("light") is look_for(None) is DAY
    assert look_for("dark", high=True) is HIGH_NIGHT
    assert look_for(None, high=True) is HIGH_DAY


def test_the_theme_names_options_that_streamlit_has() -> None:
    from streamlit import config

    known = set(config.get_config_options())
    assert {name.replace("_", ".") for name in theme_options()} <= known
