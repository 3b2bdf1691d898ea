"""The list of everything: no row of a table is missing, and each shows its source."""

from __future__ import annotations

import re

from analytics.reference.catalogue import HYGIENE, catalogue, with_words
from analytics.reference.settings import settings_table
from analytics.reference.sources import Status, read_rows, source_table

TABLES = ("incubation_days.csv", "settings.csv", "hatch_shifts.csv", "death_classes.csv", "stage_signs.csv",
          "sign_causes.csv", "facts.csv", "inbreeding_slopes.csv", "marks.csv",
          "benchmarks.csv")  # fmt: skip


def test_every_row_of_every_table_is_there() -> None:
    rows = sum(len(read_rows(name)) for name in TABLES)
    moves = sum(1 for row in read_rows("species.csv") if row["transfer_from_day"])
    assert len(catalogue()) == rows + moves
    assert len(set(catalogue())) == len(catalogue())


def test_every_entry_says_where_it_comes_from() -> None:
    words = {source.words(): source.status for source in source_table().values()}
    for entry in catalogue():
        assert entry.says
        assert entry.bird
        assert {words[part] for part in _sources(entry.source, words)} == {entry.status}


def test_every_source_is_quoted() -> None:
    quoted = {part for entry in catalogue() for part in _sources(entry.source, words=None)}
    assert {source.words() for source in source_table().values()} <= quoted


def test_facts_have_sources_and_their_status() -> None:
    for row in read_rows("facts.csv"):
        assert source_table()[row["source_id"]].status is Status(row["status"]), row
    assert {row["topic"] for row in read_rows("facts.csv")} <= {entry.topic for entry in catalogue()}


def test_topics_stand_in_one_piece_and_hygiene_last() -> None:
    topics = [entry.topic for entry in catalogue()]
    blocks = [topic for place, topic in enumerate(topics) if place == 0 or topics[place - 1] != topic]
    assert len(blocks) == len(set(blocks))
    assert blocks[-1] == HYGIENE


def test_fahrenheit_has_celsius_beside_it() -> None:
    says = [entry.says for entry in catalogue() if entry.topic == "temperature"]
    assert "setter: 99.5 °F (37.5 °C); forced air" in says
    assert all("°C" in words for words in says if "°F" in words)
    assert any(row.air == "still" for row in settings_table())


def test_words_find_entries_in_any_order_and_case() -> None:
    found = with_words("HUMIDITY coturnix")
    assert 0 < len(found) < 30
    assert set(found) == set(with_words("coturnix humidity"))
    assert {entry.bird for entry in with_words("setter coturnix 50-60")} == {"Coturnix quail"}
    assert with_words("") == catalogue()
    assert with_words("no such word") == ()
    remembered = with_words("", Status.MEMORY)
    assert remembered
    assert {entry.status for entry in remembered} == {Status.MEMORY}


def test_no_recipe_for_fumigation() -> None:
    text = " ".join(f"{entry.says} {entry.note}" for entry in catalogue()).lower()
    for word in ("permanganate", "formalin", "formaldehyde", "kmno4", "cubic", "cu ft"):
        assert word not in text
    cautions = " ".join(entry.says for entry in catalogue() if entry.topic == HYGIENE)
    for word in (
        "veterinarian",
        "your own authority",
        "rules of your country",
        "Wash your hands",
        "no recipe",
    ):
        assert word in cautions
    assert not re.search(r"\d[\d-]{8,}\d", cautions)  # no telephone number


def _sources(text: str, words: dict[str, Status] | None) -> list[str]:
    """The sources of one entry; a semicolon may also stand within one."""
    known = words or {source.words(): source.status for source in source_table().values()}
    if text in known:
        return [text]
    parts, open_part = [], ""
    for piece in text.split("; "):
        open_part = f"{open_part}; {piece}" if open_part else piece
        if open_part in known:
            parts.append(open_part)
            open_part = ""
    assert not open_part, text
    return parts
