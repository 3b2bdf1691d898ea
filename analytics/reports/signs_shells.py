"""Shells and water as plain text and plain values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analytics.incubation.signs_records import Condition, Share
from analytics.incubation.signs_shells import PenShells
from analytics.reports.month_text import paragraph, table
from analytics.studies.shells import ShellsAnswer
from analytics.studies.wording import percent, species_words

NONE = "Nothing is said against any pen's shells: no pen has thick shells, little water lost and late losses."


HEADINGS = ("pen (feed)", "shell mm", "gravity", "water lost %", "dead late %", "pipped %")


def shells_lines(found: Sequence[ShellsAnswer]) -> list[str]:
    """Paragraphs of the part on shells and water, its heading first; to be joined by blank lines."""
    parts = ["SHELLS AND WATER, one pen / the others of its batches"]
    for one in found:
        parts += [species_words(one.species), table(HEADINGS, pen_rows(one))]
        parts += [paragraph(f"- {text}") for text in said(one)]
    return parts


def said(one: ShellsAnswer) -> tuple[str, ...]:
    """What is said of one species, a sentence each; that no pen stands out only where both were measured."""
    measured = one.samples > 0 and one.weighed[0] > 0
    return *one.water, *(one.hypotheses or ((NONE,) if measured else ())), *one.not_known


def pen_rows(answer: ShellsAnswer) -> list[tuple[str, ...]]:
    """Pen by pen as `HEADINGS`: own / others, a dash where nothing is recorded."""
    return [
        (
            one.pen + (f" ({one.feed})" if one.feed else ""),
            _beside(one.thickness, 1, "{:.3f}"),
            _beside(one.gravity, 1, "{:.3f}"),
            _beside(one.water, 100, "{:.1f}"),
            _shares(one.late),
            _shares(one.pipped),
        )
        for one in answer.pens
    ]


def _beside(known: Condition | None, times: float, form: str) -> str:
    if known is None:
        return "-"
    others = f" / {form.format(known.others * times)}" if known.others is not None else ""
    return form.format(known.own * times) + others


def _shares(pair: tuple[Share, Share] | None) -> str:
    return f"{percent(pair[0].rate)} / {percent(pair[1].rate)}" if pair else "-"


def shells_values(found: Sequence[ShellsAnswer]) -> list[dict[str, Any]]:
    """Species by species; shares 0..1, unrounded; what is not recorded is null."""
    return [
        {
            "species": one.species,
            "pens": [_pen(pen) for pen in one.pens],
            "machines": list(one.machines),
            "samples": one.samples,
            "weighed_twice": one.weighed[0],
            "trays": one.weighed[1],
            "hypotheses": one.hypotheses,
            "water": one.water,
            "not_known": one.not_known,
            "sources": one.sources,
        }
        for one in found
    ]


def _pen(one: PenShells) -> dict[str, Any]:
    pairs = {
        name: {"own": pair[0], "others": pair[1]} if pair else None
        for name, pair in (("late", one.late), ("pipped", one.pipped))
    }
    thick, less_water, more_lost = one.conditions
    return {
        "pen": one.pen,
        "feed": one.feed or None,
        "thickness_mm": one.thickness,
        "specific_gravity": one.gravity,
        "water_loss": one.water,
        **pairs,
        "is_thick": thick,
        "loses_little_water": less_water,
        "loses_more_late": more_lost,
        "may_be_too_hard": one.may_be_too_hard,
    }
