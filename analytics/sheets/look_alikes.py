"""Letters that cannot be seen, and letters of other alphabets that look like Latin ones.

The pairs are the common single letters among the confusable characters of Unicode Technical Standard 39
(Unicode Consortium; from memory). Two labels that differ in nothing else are two pens, hardly ever meant so.
"""

from __future__ import annotations

import re
import unicodedata

from analytics.sheets.keys import normal_label

_LOOKS_LATIN = dict(
    zip(
        "\u0430\u0435\u043e\u0440\u0441\u0445\u0443\u0456\u0458\u0455\u0501\u051b\u051d\u043a\u043c\u0442\u043d\u0432"
        "\u03bf\u03b1\u03bd\u03b9\u03ba\u03c1\u03c5\u03b2\u03b5\u03b6\u03b7\u03bc\u03c4\u03c7\u0131\u2010\u2011\u2012\u2013\u2212",
        "aeopcxyijsdqwkmthb" + "oavikpubeznmtxi-----",
        strict=True,
    )
)
"""Lower-case letter -> the Latin one that it, or its capital, looks like."""
_NOT_SEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u200b\u200e\u200f\u2028-\u202e\u2060-\u2064\u2066-\u2069\ufeff]"
)
_JOINERS = re.compile("[\u034f\u115f\u180e\u200c\u200d\ufe00-\ufe0f]")
_TURNING = r"\x{2060}-\x{2064}\x{2066}-\x{2069}"
_CONTROLS = r"\x{7f}-\x{9f}"
NOT_SEEN_IN_LABEL = (
    rf"[\x{{00}}-\x{{08}}\x{{0a}}-\x{{1f}}{_CONTROLS}\x{{ad}}\x{{200b}}\x{{200e}}\x{{200f}}\x{{2028}}-\x{{202e}}"
    rf"{_TURNING}\x{{feff}}]"
)
"""What no label holds, for DuckDB."""
NOT_SEEN_IN_TEXT = (
    rf"[\x{{00}}-\x{{08}}\x{{0b}}\x{{0c}}\x{{0e}}-\x{{1f}}{_CONTROLS}\x{{202a}}-\x{{202e}}{_TURNING}]"
)
"""What no other text holds, in which there may be lines and tabs."""


def unseen_in(text: str) -> str:
    """The first letter of a text that cannot be seen, by its number in Unicode; "" when there is none."""
    found = _NOT_SEEN.search(text)
    return f"U+{ord(text[found.start()]):04X}" if found else ""


def looks(label: str) -> str:
    """What a label looks like: two labels with the same are hard to tell apart."""
    plain = unicodedata.normalize("NFKC", normal_label(_JOINERS.sub("", label)))
    return "".join(_LOOKS_LATIN.get(letter.lower()[:1], letter.lower()[:1]) for letter in plain)
