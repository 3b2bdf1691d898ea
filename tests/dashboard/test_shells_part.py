"""Shells, water and cleaning on a page: what is said, the table, the care, and escaped labels."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

START = datetime.fromisoformat("2026-01-05T09:00")


def _script(store: str) -> None:
    from pathlib import Path

    from analytics.options import Selection
    from analytics.studies.hygiene import hygiene
    from analytics.studies.shells import shells
    from dashboard.components import shells as parts

    parts.shells(shells(Path(store), Selection()))
    parts.cleaning(hygiene(Path(store), Selection()))


def _sheets() -> dict[str, list[dict[str, Any]]]:
    batches = [{"batch": f"B{at}", "incubator": "North", "set_on": START + timedelta(days=7 * at),
                "pulled_on": START + timedelta(days=7 * at + 18)} for at in range(8)]  # fmt: skip
    trays = [
        {"batch": f"B{at}", "tray": pen, "pen": pen, "eggs_set": 20, "infertile": 1, "rotten": at % 2,
         "hatched": 19 - at % 2, "tare_g": 100.0, "weight_set_g": 300.0, "weight_transfer_g": 278.0 + at % 3}
        for at in range(8) for pen in ("Rowan & <b>co</b>", "Alder")
    ]  # fmt: skip
    events = [
        {"incubator": "North", "at": START + timedelta(days=7 * at - at), "event": "cleaned"}
        for at in (0, 3, 5)
    ]
    return {
        "pens": [{"pen": pen, "species": "coturnix_quail"} for pen in ("Rowan & <b>co</b>", "Alder")],
        "incubators": [{"incubator": "North"}], "batches": batches, "trays": trays,
        "incubator_events": events,
    }  # fmt: skip


def test_both_parts_stand_with_their_care(store_of: Callable[..., Path]) -> None:
    page = AppTest.from_function(_script, args=(str(store_of(**_sheets())),), default_timeout=60).run()
    assert not page.exception
    assert [header.value for header in page.header] == ["Shells and water", "Cleaning"]
    said = " ".join(part.proto.body for part in page.get("html"))
    # 22, 21 or 20 of 200 g lost, in turn over eight batches: 10.56 %
    for text in ("No shell sample speaks", "10.6 / 10.6", "days since cleaning", "can burst", "no recipe"):
        assert text in said, text
    assert "Nothing is said against" not in said  # no shell was measured
    assert "<b>co</b>" not in said
    assert "Rowan &amp; &lt;b&gt;co" in said
