"""Signs and candidate causes: whole, sourced, and worded as candidates."""

from __future__ import annotations

from collections import Counter

import pytest

from analytics.reference.signs import Strength, causes_of, sign_causes_table, stage_signs_table
from analytics.reference.sources import Status, source_table
from analytics.reference.species import species_table


def _causes(sign: str, group: str | None = None) -> list[str]:
    return [row.cause for row in causes_of(sign) if group in (None, row.group)]


def test_every_row_is_whole() -> None:
    sources = source_table()
    for row in sign_causes_table():
        assert row.group in {"flock", "handling", "incubator"}
        assert row.source_ids
        assert {sources[name].status for name in row.source_ids} == {row.status}, row
        assert row.name
        assert row.next_check
    pairs = Counter((row.sign, row.cause) for row in sign_causes_table())
    assert set(pairs.values()) == {1}


def test_a_sign_has_one_name_and_stands_in_one_piece() -> None:
    order = [row.sign for row in sign_causes_table()]
    blocks = [sign for place, sign in enumerate(order) if place == 0 or order[place - 1] != sign]
    assert len(blocks) == len(set(blocks))
    for sign in blocks:
        assert len({row.name for row in causes_of(sign)}) == 1
    assert causes_of("no such sign") == ()


def test_memory_and_strength_go_together() -> None:
    for row in sign_causes_table():
        assert (row.strength is Strength.MEMORY) == (row.status is Status.MEMORY), row


def test_infertility_is_not_put_down_to_the_machine() -> None:
    # UF CIR1112 and UC 8127 (SEEN) name no incubator cause of eggs opened and infertile
    assert _causes("infertile", "incubator") == []
    assert _causes("clear", "incubator")


def test_a_late_hatch_has_rivals_before_the_cool_machine() -> None:
    causes = _causes("late_hatch")
    cool = causes.index("too cool")
    rivals = ("stored long", "large eggs", "cold eggs when set", "high ground", "power cuts")
    for words in rivals:
        place = next(place for place, cause in enumerate(causes) if cause.startswith(words))
        assert place < cool, words
    # Romanoff 1935 (SEEN abstract): late toward both ends of temperature
    assert any("romanoff_1935" in row.source_ids for row in causes_of("late_hatch"))


def test_dry_chicks_lead_to_openings_and_dry_air_first() -> None:
    first, second = causes_of("dry_stuck")[:2]
    assert "opened" in first.cause
    assert first.strength is Strength.MEMORY  # mechanism only, no source
    assert "dry" in second.cause
    assert second.source_ids == ("psu_trouble",)  # Penn State Ext. troubleshooting, SEEN


@pytest.mark.parametrize("sign", ["dead_late", "pipped"])
def test_a_hard_shell_is_contested(sign: str) -> None:
    # Soliman et al. 1994 (SEEN abstract) against Narushin & Romanov 2002 and the dose trials (SEEN abstracts)
    shell = next(row for row in causes_of(sign) if row.cause.startswith("shell too thick"))
    assert shell.strength is Strength.CONTESTED
    for condition in ("thick shells were measured", "water loss is low", "other pens"):
        assert condition in shell.next_check


def test_heat_may_show_weeks_later() -> None:
    # French 2000 (SEEN abstract): heat of weeks 1-2, deaths in weeks 3-4 and at the pip
    for sign in ("dead_late", "pipped"):
        hot = next(row for row in causes_of(sign) if "hot" in row.cause)
        assert "weeks before" in hot.cause
        assert hot.source_ids == ("french_2000",)


def test_stage_signs_run_through_the_days() -> None:
    for row in stage_signs_table():
        assert row.species in {"any", *species_table()}
        assert 0 <= row.from_day <= row.to_day <= 21
        assert source_table()[row.source_id].status is row.status
