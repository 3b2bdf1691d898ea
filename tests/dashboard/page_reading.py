"""What a page shows, as its tests read it."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from typing import Any

from streamlit.testing.v1 import AppTest

from dashboard import words, words_tables


def bodies_of(page: AppTest) -> list[str]:
    """Our own HTML of the page, piece by piece, styles left out."""
    return [piece.proto.body for piece in page.get("html") if "<style>" not in piece.proto.body]


def text_of(page: AppTest) -> str:
    """All that is written on the page, without mark-up, with single spaces."""
    plain = html.unescape(re.sub(r"<[^>]+>", " ", " ".join(bodies_of(page))))
    return re.sub(r"\s+", " ", plain.replace("\N{NO-BREAK SPACE}", " "))


def alts_of(page: AppTest) -> list[str]:
    """The sentences of the pictures, for who cannot see them."""
    return [chart.proto.alt for chart in page.get("plotly_chart")]


def downloads_of(page: AppTest) -> list[str]:
    """What can be taken away beside pictures and the page's tables: tables by name, files by their button."""
    everywhere = (words.TAKE_PICTURE, words_tables.TAKE_ALL)
    return [label for label in _taken(page._tree) if label not in everywhere]


def _taken(node: Any) -> Iterator[str]:
    if getattr(node, "type", "") == "popover" and page_buttons(node):
        yield node.proto.popover.label
        return
    if getattr(node, "type", "") == "download_button":
        yield node.proto.label
    for child in getattr(node, "children", {}).values():
        yield from _taken(child)


def page_buttons(node: Any) -> list[str]:
    """Files that a popover, or whatever else, hands out."""
    if getattr(node, "type", "") == "download_button":
        return [node.proto.label]
    return [label for child in getattr(node, "children", {}).values() for label in page_buttons(child)]
