"""Signs on a page: what is seen, what speaks for and against each candidate, and when there are none."""

from __future__ import annotations

import html
import re

from streamlit.testing.v1 import AppTest

from dashboard import words_incubators

_MADE = """
from analytics.studies.signs_records import Sign, SignCandidate, SignsAnswer, SignShare
from dashboard.components import signs

share = SignShare(9.0, 100.0, "of fertile", 0.05, 0.16, 6, "North")
candidate = SignCandidate(
    "too <warm>", "incubator", ("Reference 38.4 °C.",), ("Other pens alike.",), ("Elsewhere fine.",), (),
    "Read a thermometer",
    "Somebody 2020", ("x",), "sheet", "", ("readings of a logger",),
)
sign = Sign(
    "chicken", "incubator", "North", "dead_late", "Dead late", share, None, 0.08, "North: 9 of 100 eggs.",
    (candidate,), 2, STANDING,
)
cautions = ("Wash your hands.",)
signs.signs(SignsAnswer(SHOWN, 0, (), ("Navels are not recorded.",), "At least three eggs.", cautions))
"""


def _said(signs: str = "(sign,)", standing: str = "above_own") -> str:
    script = _MADE.replace("SHOWN", signs).replace("STANDING", f'"{standing}"')
    page = AppTest.from_string(script, default_timeout=60).run()
    assert not page.exception
    whole = " ".join(one.proto.body for one in page.get("html")) + " ".join(
        one.label for one in page.expander
    )
    return html.unescape(re.sub(r"<[^>]+>", " ", whole))


def test_a_sign_with_its_candidate() -> None:
    said = _said()
    for part in (
        "Dead late", "North: 9 of 100 eggs.", "too <warm>", "Reference 38.4 °C.", "Other pens alike.",
        "For the machine's causes together: Elsewhere fine.", "Not written down: readings of a logger.",
        "Read a thermometer. Source: Somebody 2020.",
        "1 candidate, 2 less likely left out", "Wash your hands.", "Navels are not recorded.",
    ):  # fmt: skip
        assert part in said


def test_one_batch_is_said_to_be_no_finding() -> None:
    from analytics.studies.signs_words import ONE_BATCH

    assert ONE_BATCH in _said(standing="one_batch")
    assert ONE_BATCH not in _said()


def test_no_sign_is_a_sentence() -> None:
    assert words_incubators.SIGNS_NONE in _said("()")
