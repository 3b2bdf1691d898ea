"""The picture key: what each outcome looks like, and the egg day by day for a species."""

from __future__ import annotations

from html import escape
from pathlib import Path

import streamlit as st

from dashboard import words_bench
from dashboard.components import marks
from dashboard.egg_drawings import day_svg, outcome_svg, position_svg

_KEY = st.components.v2.component(
    "penwise_egg_key",
    html="<div class='pwk'></div>",
    css=Path(__file__).with_suffix(".css").read_text(encoding="utf-8"),
    js=(
        "export default function ({ data, parentElement }) {"
        ' parentElement.querySelector(".pwk").innerHTML = data.html; }'
    ),
    isolate_styles=False,
)


def key(species: str, *, opened: bool = False) -> None:
    """The key, folded until it is wanted.

    Args:
        species: whose days stand beside the drawings.
        opened: whether it stands open.
    """
    with st.expander(words_bench.KEY_HEADING, expanded=opened):
        marks.note(words_bench.KEY_LEDE)
        _KEY(data={"html": key_html(species)}, key=f"egg key {species}")


def positions() -> None:
    """The six malpositions, folded until they are wanted."""
    with st.expander(words_bench.POSITIONS_HEADING):
        marks.note(words_bench.POSITIONS_LEDE)
        _KEY(data={"html": positions_html()}, key="malpositions")


def positions_html() -> str:
    """Their drawings with their words."""
    drawn = "".join(
        f"<li>{position_svg(number, what)}<span>{number}. {escape(what)}</span></li>"
        for number, what in words_bench.POSITIONS.items()
    )
    return f"<ul class='pwk-days'>{drawn}</ul>"


def key_html(species: str) -> str:
    """The drawings with their words; every text is escaped."""
    outcomes = "".join(
        f"<li>{outcome_svg(name)}<div><strong>{escape(words_bench.OUTCOMES[name])}.</strong>"
        f" {escape(says)}</div></li>"
        for name, says in words_bench.LOOKS.items()
    )
    days = []
    for share in words_bench.KEY_STAGES:
        name, alt = words_bench.key_day(species, share)
        days.append(f"<li>{day_svg(share, alt)}<span>{escape(name)}</span></li>")
    return (
        f"<ul class='pwk-outcomes'>{outcomes}</ul><h3>{escape(words_bench.KEY_DAYS)}</h3>"
        f"<p>{escape(words_bench.key_classes(species))}</p><ul class='pwk-days'>{''.join(days)}</ul>"
    )
