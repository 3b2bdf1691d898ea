"""Words, tables and figures as HTML of our own; every text is escaped here and nowhere else."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence

import streamlit as st

from dashboard import words


def sentences(lines: Sequence[str]) -> None:
    """The answer: the first sentence large, the others beneath."""
    if not lines:
        return
    rest = "".join(f"<p class='pw-more'>{_text(line)}</p>" for line in lines[1:])
    st.html(f"<div class='pw-answer'><p class='pw-first'>{_text(lines[0])}</p>{rest}</div>")


def plain_sentences(lines: Sequence[str]) -> None:
    """Sentences of an answer whose first one stands above them."""
    said = "".join(f"<p class='pw-more'>{_text(line)}</p>" for line in lines)
    st.html(f"<div class='pw-answer'>{said}</div>")


def aside(text: str) -> None:
    """An answer within the page, smaller than the one above it."""
    st.html(f"<p class='pw-more'>{_text(text)}</p>")


def note(text: str) -> None:
    """A secondary sentence."""
    st.html(f"<p class='pw-note'>{_text(text)}</p>")


def as_written(text: str) -> str:
    """Text of a keeper's for a label that reads marks: every one stands as it was written."""
    return re.sub(r"([^\w\s,;%'’–−]|_)", r"\\\1", text)


def notice(title: str, lines: Sequence[str], *, grave: bool = False) -> None:
    """A box that asks for attention; `grave` for what was refused or cannot be read."""
    kind = "pw-notice pw-grave" if grave else "pw-notice"
    body = "".join(f"<p>{_text(line)}</p>" for line in lines)
    heading = f"<p class='pw-notice-title'>{_text(title)}</p>" if title else ""
    st.html(f"<div class='{kind}' role='{'alert' if grave else 'status'}'>{heading}{body}</div>")


def points(lines: Sequence[str]) -> None:
    """Secondary sentences, one beneath the other; nothing where there are none."""
    if not lines:
        return
    items = "".join(f"<li>{_text(line)}</li>" for line in lines)
    st.html(f"<ul class='pw-points'>{items}</ul>")


def key(entries: Sequence[tuple[str, str, str]]) -> None:
    """What the marks of a picture stand for.

    Args:
        entries: mark as a letter, its colour, and what it is, of each.
    """
    items = "".join(
        f"<li><span aria-hidden='true' style='color:{_text(colour)}'>{_text(mark)}</span>{_text(name)}</li>"
        for mark, colour, name in entries
    )
    st.html(f"<ul class='pw-key'>{items}</ul>")


def steps(ways: Sequence[tuple[str, str]]) -> None:
    """Numbered ways to go on."""
    items = "".join(f"<li><strong>{_text(name)}.</strong> {_text(text)}</li>" for name, text in ways)
    st.html(f"<ol class='pw-steps'>{items}</ol>")


def labelled(label: str, text: str) -> None:
    """A sentence beneath what it is, such as how sure it is and how much it is of."""
    st.html(f"<p class='pw-label'>{_text(label)}</p><p class='pw-more'>{_text(text)}</p>")


def figures(entries: Sequence[tuple[str, str, str]]) -> None:
    """A strip of figures.

    Args:
        entries: name, figure, and what stands beneath it, of each.
    """
    cells = "".join(
        f"<div><dt>{_text(name)}</dt><dd class='pw-figure'>{_text(figure)}</dd>"
        f"<dd class='pw-beneath'>{_text(beneath)}</dd></div>"
        for name, figure, beneath in entries
    )
    st.html(f"<dl class='pw-strip'>{cells}</dl>")


SHOWN_TABLES = "tables of the page"
"""Key in the session of the tables that the page has shown: caption, headings and rows of each."""


def table(
    caption: str,
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Sequence[str] = (),
    wide: Sequence[str] = (),
) -> None:
    """A table that a screen reader can read and a phone shows as cards.

    Args:
        caption: what the table is, for who cannot see where it stands.
        headings: one per column; the first column names the row.
        rows: texts, as many in each as there are headings.
        numbers: headings of the columns that are set to the right.
        wide: headings of the columns that hold sentences.
    """
    st.session_state.setdefault(SHOWN_TABLES, []).append((caption, tuple(headings), list(rows)))
    kinds = [_kind(name, numbers, wide) for name in headings]
    head = "".join(
        f"<th scope='col' role='columnheader' class='{kind}'>{_text(name)}</th>"
        for name, kind in zip(headings, kinds, strict=True)
    )
    body = "".join(f"<tr role='row'>{_cells(headings, row, kinds)}</tr>" for row in rows)
    st.html(
        f"<table class='pw-table' role='table'><caption>{_text(caption)}</caption>"
        f"<thead role='rowgroup'><tr role='row'>{head}</tr></thead>"
        f"<tbody role='rowgroup'>{body}</tbody></table>"
    )


def _text(plain: str) -> str:
    """Text as HTML; a number and its % stay on one line, a `word` of the sheets is set as such."""
    safe = html.escape(plain).replace(" %", "\N{NO-BREAK SPACE}%")
    return re.sub(r"`([^`]+)`", r"<code>\1</code>", safe)


def _cells(headings: Sequence[str], row: Sequence[str], kinds: Sequence[str]) -> str:
    name = f"<th scope='row' role='rowheader'>{_text(row[0])}</th>"
    return name + "".join(
        f"<td role='cell' data-label='{_text(heading)}' class='{kind}{_blank(text)}'>"
        f"<span>{_text(text)}</span></td>"
        for heading, text, kind in zip(headings[1:], row[1:], kinds[1:], strict=True)
    )


def _blank(text: str) -> str:
    return " pw-blank" if text == words.NOT_KNOWN else ""


def _kind(heading: str, numbers: Sequence[str], wide: Sequence[str]) -> str:
    if heading in numbers:
        return "pw-number"
    return "pw-long" if heading in wide else "pw-text"
