"""What a page shows, as its tests read it."""

from __future__ import annotations

import html
import re

from streamlit.testing.v1 import AppTest


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
    """What can be taken away."""
    return [button.proto.label for button in page.get("download_button")]
