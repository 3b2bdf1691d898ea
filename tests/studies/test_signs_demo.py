"""The signs of the demo beside what is true in its world, by seed_demo/world.py and what it draws."""

from __future__ import annotations

from pathlib import Path

import pytest

from analytics.options import Selection
from analytics.studies.signs import signs_answer
from seed_demo.build import build_demo
from seed_demo.generate import draw_truth, randomness
from seed_demo.world import world

TRUE = {
    ("pen", "Hazel", "infertile"): "its male fails from June 2026 on",
    ("pen", "Cedar", "dead_first_week"): "the drawn difference of pens, held below",
    ("pen", "Larch", "pipped"): "the crushed shell fed from October 2025 on",
    ("pen", "Rowan", "pipped"): "the crushed shell",
    ("pen", "Larch", "dead_late"): "the crushed shell",
    ("pen", "Rowan", "dead_late"): "the crushed shell",
    ("incubator", "Chalk", "dead_late"): "planted with the pen that only it had",
}
"""Signs that the world carries."""
SURE = (("pen", "Hazel", "infertile"), ("pen", "Rowan", "pipped"))


@pytest.mark.slow
def test_the_demo_shows_what_its_world_carries_and_nothing_else(tmp_path: Path) -> None:
    store = tmp_path / "demo.duckdb"
    build_demo(store)
    found = signs_answer(store, Selection())
    seen = {(one.placed, one.level, one.sign): one for one in found.signs if one.placed != "batch"}
    assert set(seen) <= set(TRUE)
    assert set(SURE) <= set(seen)
    drawn = draw_truth(world(), randomness(world())).differences.pens
    assert drawn["Cedar", "early"] == min(drawn[pen.name, "early"] for pen in world().pens)
    assert all(one.candidates[0].group == "flock" for (placed, _, _), one in seen.items() if placed == "pen")
    # that other pens do better is said of all the flock's causes together, of none by itself
    cedar = next((one for (_, level, _), one in seen.items() if level == "Cedar"), None)
    if cedar is not None:
        assert not any("Other pens" in " ".join(one.for_) for one in cedar.candidates)
    # thick shells, little water, late losses: planted together in Rowan, so the hypothesis is named, as one
    first = seen["pen", "Rowan", "pipped"].candidates[0]
    assert first.cause == "shell too thick and with few pores"
    assert first.note.startswith("Only a hypothesis")
    quail = found.shells[0]
    assert [one.pen for one in quail.pens if one.may_be_too_hard] == ["Rowan"]
    assert [said.split()[0] for said in quail.water[:2]] == ["Rowan", "Larch"]
    assert "Only Maple had eggs in it" in quail.water[2]
    assert all("No sure link" in row.sentence for one in found.cleaning for row in one.rows)
