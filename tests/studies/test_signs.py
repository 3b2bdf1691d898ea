"""Signs from the store to the sentence: the right first candidate, its contrary, and what makes no sign."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.common import plain
from analytics.errors import DataTooThin
from analytics.incubation.signs_records import Share
from analytics.incubation.signs_shares import is_seen
from analytics.options import Selection
from analytics.reports.signs_json import signs_about, signs_values
from analytics.reports.signs_text import signs_lines
from analytics.studies.causes_records import Causes
from analytics.studies.clear_records import Clears
from analytics.studies.signs import signs, signs_answer
from analytics.studies.signs_records import Sign, SignsAnswer

Make = Callable[..., Path]
Row = dict[str, Any]
PENS = ("Rowan", "Alder", "Birch")
MACHINES = ("North", "South")
START = datetime.fromisoformat("2026-01-05T09:00")
NO_LEDGER = Causes(Selection(), (), (), Clears(Selection(), ()))
TRAY = {"eggs_set": 20, "hatched": 13, "infertile": 1, "early_dead": 1, "late_dead": 1, "external_pip": 4}


def farm(dry: Callable[[str, str, int], int], batches: int = 16, **more: list[Row]) -> dict[str, list[Row]]:
    """Trays of 20: 1 infertile, 1 early, 1 late, 4 pipped, 13 chicks; dry(machine, pen, batch) of the pipped.

    Air is 75 % humid in the hatchers; both machines are opened now and then, never after the move.
    """
    rows: dict[str, list[Row]] = {"batches": [], "trays": [], "opened_eggs": [], "climate": []}
    for number in range(batches):
        machine, start = MACHINES[number % 2], START + timedelta(days=7 * (number // 2))
        name = f"B{number:02}"
        rows["batches"].append({"batch": name, "incubator": machine, "set_on": start,
                                "transfer_on": start + timedelta(days=14),
                                "pulled_on": start + timedelta(days=18)})  # fmt: skip
        for pen in PENS:
            rows["trays"].append({"batch": name, "tray": pen, "pen": pen, **TRAY})
            rows["opened_eggs"] += [
                {"batch": name, "tray": pen, "egg": egg, "class": "external_pip",
                 "dry_membrane": egg < dry(machine, pen, number)}
                for egg in range(4)
            ]  # fmt: skip
        rows["climate"] += [
            {
                "incubator": machine,
                "at": start + timedelta(days=day),
                "temperature_c": 37.5,
                "humidity_pct": 75.0,
            }
            for day in (15, 16, 17)
        ]
    events = [
        {"incubator": machine, "at": START + timedelta(days=3), "event": "opened"} for machine in MACHINES
    ]
    kept = {
        "pens": [{"pen": pen, "species": "coturnix_quail"} for pen in PENS],
        "incubators": [{"incubator": machine} for machine in MACHINES],
        "incubator_events": events,
        **rows,
    }
    return {name: [*kept.get(name, []), *more.get(name, [])] for name in {**kept, **more}}


def opened_and_dried(sheets: dict[str, list[Row]], machine: str) -> dict[str, list[Row]]:
    """The machine's hatcher is opened in each batch after the move, and its air is dry then."""
    mine = [row for row in sheets["batches"] if row["incubator"] == machine]
    events = [
        {"incubator": machine, "at": row["transfer_on"] + timedelta(days=2), "event": "opened"}
        for row in mine
    ]
    air = [{**row, "humidity_pct": 45.0} if row["incubator"] == machine else row for row in sheets["climate"]]
    return {**sheets, "incubator_events": [*sheets["incubator_events"], *events], "climate": air}


def ask(store: Path, **filters: Any) -> SignsAnswer:
    """Asks without a ledger, and holds every answer to what must be true of all."""
    found = signs_answer(store, Selection(**filters), NO_LEDGER)
    values = signs_values(found.signs)
    text = json.dumps(plain({"signs": values, **signs_about(found)}), allow_nan=False)
    assert "p_value" not in text
    said = "\n".join(signs_lines(found))
    for one, value in zip(found.signs, values, strict=True):
        assert 0 <= one.share.low <= one.share.rate <= one.share.high <= 1
        assert len(one.candidates) <= 5
        assert [value[kind] for kind in ("batch", "incubator", "pen")].count(None) == 2
        assert all(each["source"] and each["next_check"] for each in value["candidates"])
        assert one.candidates[0].cause in " ".join(said.split())
    return found


def the(found: SignsAnswer, sign: str, level: str) -> Sign:
    return next(one for one in found.signs if (one.sign, one.level) == (sign, level))


def test_openings_dry_chicks_and_low_humidity_lead_to_the_opened_hatcher(store_of: Make) -> None:
    sheets = farm(lambda machine, *_: 3 if machine == "North" else 0)
    found = ask(store_of(**opened_and_dried(sheets, "North")))
    sign = the(found, "dry_stuck", "North")
    assert (sign.placed, sign.standing) == ("incubator", "above_own")
    # 8 batches x 3 pens x 3 of 4 pipped eggs, of 8 x 3 x (4 pipped + 13 out)
    assert (sign.seen, sign.eggs, sign.share.batches) == (72, 408, 8)
    first, second = sign.candidates[:2]
    assert (first.cause, first.group) == ("hatcher opened while chicks pipped", "incubator")
    assert second.cause == "hatcher too dry"
    said = " ".join(first.for_)
    assert "Openings between the move and the end: 1.0 a batch against 0.0 a batch at other machines" in said
    assert "Humidity in the hatcher: 45 % against 75 % at other machines" in said
    assert "published are" in said  # 45 % is less than any source advises
    assert any("empty tray" in text for one in sign.candidates for text in one.missing)
    assert sign.candidates[0].source == "common practice, no source (from memory)"
    not_told = " ".join(found.not_recorded)
    assert all(name in not_told for name in ("malformed", "hatch uneven", "splayed legs"))
    assert "no column for wet, sticky or smeared chicks" in not_told


def test_one_pen_alone_moves_it_to_the_flock_side(store_of: Make) -> None:
    """Rowan's chicks alone are dry, in both machines: that clears every candidate of the machine."""
    found = ask(store_of(**farm(lambda _, pen, __: 3 if pen == "Rowan" else 0)))
    assert not [one for one in found.signs if one.placed == "incubator"]
    sign = the(found, "dry_stuck", "Rowan")
    assert "Other pens in the same batches do better" in " ".join(sign.said_of("incubator")[1])
    assert not any(one.for_ or one.against for one in sign.candidates)  # it is no cause's own
    assert all(one.group == "incubator" for one in sign.candidates)  # the table knows no other of dry chicks


def test_both_machines_alike_are_no_sign_of_either(store_of: Make) -> None:
    found = ask(store_of(**farm(lambda *_: 2)))
    assert found.signs == ()
    assert "Dry chicks stuck to the shell" in found.looked_at
    assert "No sign stands out" in "\n".join(signs_lines(found))


def test_few_eggs_are_no_sign(store_of: Make) -> None:
    assert ask(store_of(**farm(lambda _, __, number: 4 if number == 0 else 0, batches=2))).signs == ()


def test_one_batch_is_something_to_look_at_and_no_finding(store_of: Make) -> None:
    sheets = farm(lambda _, __, number: 4 if number == 4 else 0)
    for row in sheets["trays"]:
        row.update({"external_pip": 14, "hatched": 3} if row["batch"] == "B04" else {})
    more = [{**row, "egg": row["egg"] + 4 * times} for row in sheets["opened_eggs"] if row["batch"] == "B04"
            for times in (1, 2, 3) if row["egg"] + 4 * times < 14]  # fmt: skip
    found = ask(store_of(**{**sheets, "opened_eggs": [*sheets["opened_eggs"], *more]}))
    # its machine without it is like the other one, so the signs are the batch's alone
    assert {one.sign for one in found.signs} == {"dry_stuck", "pipped"}
    assert {(one.placed, one.level, one.standing) for one in found.signs} == {("batch", "B04", "one_batch")}
    assert "One batch: something to look at, not a finding." in "\n".join(signs_lines(found))


def test_one_batch_in_all_is_held_against_published_figures_only(store_of: Make) -> None:
    sheets = farm(lambda *_: 4, batches=1)
    early = [{"batch": "B00", "tray": pen, "egg": 10, "class": "early_dead", "day": 2} for pen in PENS]
    found = ask(store_of(**{**sheets, "opened_eggs": [*sheets["opened_eggs"], *early]}))
    assert found.signs == ()  # 3 of 57 on days 1 to 3: not surely above 3 %


def test_a_sure_loss_of_a_pen_in_the_ledger_stands_above_the_machine(store_of: Make) -> None:
    """Rowan's eggs die in the shell wherever they hatch; the ledger names the pen, and so does the sign."""
    sheets = farm(lambda *_: 0)
    for number, row in enumerate(sheets["trays"]):
        many = 9 if row["pen"] == "Rowan" else number % 2
        row.update(external_pip=many, hatched=17 - many)
    found = signs(store_of(**{**sheets, "opened_eggs": []}), Selection())
    sign = next(one for one in found if one.sign == "pipped")
    assert (sign.placed, sign.level) == ("pen", "Rowan")
    groups = [one.group for one in sign.candidates]
    assert groups[0] == "flock"
    assert any("The ledger of losses: More of Rowan's eggs died in the shell" in text
               for text in sign.candidates[0].group_for)  # fmt: skip


def test_the_level_holds_for_the_farm_not_for_each_species(
    store_of: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second species doubles the places by which the level is raised."""
    asked: list[tuple[float, int]] = []

    def noted(own: Share, usual: Share | None, mark: float | None, places: int) -> str:
        asked.append((own.eggs, places))
        return is_seen(own, usual, mark, places)

    monkeypatch.setattr("analytics.studies.signs.is_seen", noted)
    sheets = farm(lambda *_: 2)
    hens = [{"batch": "H00", "incubator": "North", "set_on": START, "pulled_on": START + timedelta(days=22)}]
    tray = {"batch": "H00", "tray": "1", "pen": "Hens", "eggs_set": 9, "infertile": 1, "hatched": 8}
    sheets["pens"].append({"pen": "Hens", "species": "chicken"})
    store = store_of(**{**sheets, "batches": sheets["batches"] + hens, "trays": sheets["trays"] + [tray]})
    ask(store, species=("coturnix_quail",))
    alone = sorted(asked)
    assert alone
    asked.clear()
    ask(store)
    both = sorted(one for one in asked if one[0] > 9)
    assert both == [(eggs, 2 * places) for eggs, places in alone]


def test_an_empty_store_is_refused(store_of: Make) -> None:
    with pytest.raises(DataTooThin, match="No closed batch"):
        signs_answer(store_of(), Selection())
