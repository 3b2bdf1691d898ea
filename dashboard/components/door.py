"""What belongs to the door on every page: a word when others can read along, and the way out."""

from __future__ import annotations

import html
import os
from pathlib import Path

import streamlit as st

from dashboard import words_access
from dashboard.access.doorway import SIGN_OUT
from dashboard.components import marks
from dashboard.launch import NETWORK, PLAIN

_BUTTON = (
    "font: inherit; color: inherit; background: none; border: 1px solid; border-radius: 4px;"
    " min-height: 2.75rem; padding: 0 1rem; cursor: pointer;"
)
_WATCH = st.components.v2.component(
    "penwise_watch",
    html="<span></span>",
    css=".st-key-door-watch { position: absolute; }",
    js=Path(__file__).with_suffix(".js").read_text(encoding="utf-8"),
    isolate_styles=False,
)


def watch() -> None:
    """Looks whether the session has ended, and warns where others can read along; nothing on one computer."""
    allowed = os.environ.get(NETWORK)
    if allowed:
        with st.container(key="door-watch"):
            _WATCH(key="door")
    if allowed == PLAIN:
        marks.notice("", (words_access.NOT_ENCRYPTED,), grave=True)


def way_out() -> None:
    """The button that signs out; nothing where only this computer may look."""
    if os.environ.get(NETWORK):
        label = html.escape(words_access.LEAVE)
        st.html(f"<form method='post' action='{SIGN_OUT}'><button style='{_BUTTON}'>{label}</button></form>")
