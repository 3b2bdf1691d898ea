"""The demo's sheets: they keep the rules of record sheets, hold the gaps of real life, and come out alike."""

import csv
import os
import subprocess
import sys
from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest

from analytics.reference.species import species_table
from analytics.sheets.contract import OUTCOMES, SHEETS, Kind
from seed_demo.generate import generate, randomness, write_sheets
from seed_demo.world import TODAY, world

HASH_OF_ALL = """
import hashlib, sys, tempfile
from pathlib import Path
from seed_demo.generate import generate, randomness, write_sheets
from seed_demo.world import world
made = world(int(sys.argv[1])) if len(sys.argv) > 1 else world()
with tempfile.TemporaryDirectory() as folder:
    write_sheets(generate(made, randomness(made)), Path(folder))
    whole = hashlib.sha256()
    for file in sorted(Path(folder).iterdir()):
        whole.update(file.name.encode() + file.read_bytes())
print(whole.hexdigest())
"""
PYTHON_TYPE = {
    Kind.LABEL: str, Kind.TEXT: str, Kind.DAY: date, Kind.MOMENT: datetime, Kind.COUNT: int,
    Kind.WHOLE: int, Kind.NUMBER: (int, float), Kind.SHARE: float, Kind.YES_NO: bool,
}  # fmt: skip


def test_rows_follow_the_contract(demo):
    for sheet in SHEETS:
        assert demo.rows[sheet.name], sheet.name
        for row in demo.rows[sheet.name]:
            assert set(row) <= set(sheet.by_name), sheet.name
            for column in sheet.columns:
                _cell_is_right(sheet.name, column, row.get(column.name))


def _cell_is_right(sheet, column, cell):
    place = (sheet, column.name, cell)
    if cell is None:
        assert not column.required, place
        return
    assert isinstance(cell, PYTHON_TYPE[column.kind]), place
    if column.kind is Kind.DAY:
        assert not isinstance(cell, datetime), place
    if column.kind in (Kind.COUNT, Kind.WHOLE):
        assert cell >= (0 if column.kind is Kind.COUNT else 1), place
    if column.choices:
        assert cell in column.choices, place
    assert column.low is None or cell >= column.low, place
    assert column.high is None or cell <= column.high, place


def test_keys_are_unique_and_references_exist(demo):
    labels = {
        sheet.name: {str(row[sheet.key[0]]).strip().lower() for row in demo.rows[sheet.name]}
        for sheet in SHEETS
    }
    for sheet in SHEETS:
        keys = Counter(
            tuple(str(row.get(name)).lower() for name in sheet.key) for row in demo.rows[sheet.name]
        )
        assert keys.most_common(1)[0][1] == 1, (sheet.name, keys.most_common(1))
        for column in sheet.columns:
            if column.refers_to:
                named = {
                    str(row[column.name]).lower() for row in demo.rows[sheet.name] if row.get(column.name)
                }
                assert named <= labels[column.refers_to], (sheet.name, column.name)
    trays = {(row["batch"], row["tray"]) for row in demo.rows["trays"]}
    for name in ("candlings", "opened_eggs", "chicks"):
        assert {(row["batch"], row["tray"]) for row in demo.rows[name]} <= trays
    assert {row["species"] for row in demo.rows["pens"]} <= set(species_table())


def test_counts_add_up(demo):
    opened = Counter((row["batch"], row["tray"], row["class"]) for row in demo.rows["opened_eggs"])
    for row in demo.rows["trays"]:
        assert sum(row[name] or 0 for name in OUTCOMES) <= row["eggs_set"]
        assert 10 <= row["eggs_set"] <= 30
        for name in OUTCOMES:
            assert opened[row["batch"], row["tray"], name] <= (row[name] or 0)
    for row in demo.rows["candlings"]:
        assert row["clear"] + row["dead"] + row["cracked"] <= row["eggs"]
        assert row["removed"] <= row["eggs"]
    for row in demo.rows["lay"]:
        assert row["set_aside"] <= row["eggs"] <= row["hens"]
    for row in demo.rows["fresh_eggs"]:
        assert row["fertile"] <= row["eggs"]


def test_fates_are_all_the_eggs(demo):
    for fate in demo.truth.fates:
        parts = [getattr(fate, name) for name in type(fate).__slots__ if name != "tray"]
        assert sum(parts) == fate.tray.eggs
        assert min(parts) >= 0


def test_dates_are_in_order(demo):
    pens = {row["pen"]: row for row in demo.rows["pens"]}
    batches = {row["batch"]: row for row in demo.rows["batches"]}
    for batch in batches.values():
        times = [batch[name] for name in ("set_on", "transfer_on", "pulled_on") if batch[name]]
        assert times == sorted(times)
        assert times[-1].date() <= TODAY
    for row in demo.rows["trays"]:
        pen, set_on = pens[row["pen"]], batches[row["batch"]]["set_on"].date()
        if row["laid_from"]:
            assert pen["from"] <= row["laid_from"] <= row["laid_to"] < set_on
            assert not pen["to"] or row["laid_to"] <= pen["to"]
        if row["storage_days"]:
            middle = (row["laid_to"] - row["laid_from"]) / 2
            assert row["storage_days"] == (set_on - row["laid_from"] - middle) / timedelta(days=1)


def test_no_date_lies_after_today(demo):
    for name, rows in demo.rows.items():
        for row in rows:
            for cell in row.values():
                if isinstance(cell, datetime):
                    assert cell.date() <= TODAY, (name, row)
                elif isinstance(cell, date):
                    assert cell <= TODAY, (name, row)


def test_chicks_out_grow_to_all_that_hatched(demo):
    chicks = Counter()
    for fate in demo.truth.fates:
        chicks[fate.tray.batch.name] += fate.hatched + fate.culled
    counts = defaultdict(list)
    for row in demo.rows["hatch_counts"]:
        counts[row["batch"]].append((row["counted_at"], row["out_so_far"]))
    assert len(counts) > 50
    for batch, counted in counts.items():
        out = [so_far for _, so_far in sorted(counted)]
        assert out == sorted(out)
        assert out[-1] == chicks[batch]


def test_machines_never_hold_more_than_they_can(demo):
    capacity = {row["incubator"]: row["capacity_eggs"] for row in demo.rows["incubators"]}
    held = Counter()
    for fate in demo.truth.fates:
        batch = fate.tray.batch
        for day in range((batch.end.date() - batch.set_on.date()).days):
            moment = batch.set_on + timedelta(days=day)
            machine = batch.setter if moment < batch.transfer_on else batch.hatcher
            held[machine, moment.date()] += fate.tray.eggs
    assert all(eggs <= capacity[machine] for (machine, _), eggs in held.items())


def test_birds_are_in_one_pen_at_a_time_and_come_from_older_birds(demo):
    birds = {row["bird"]: row for row in demo.rows["birds"]}
    for row in birds.values():
        for parent, sex in ((row["sire"], "m"), (row["dam"], "f")):
            if parent:
                assert birds[parent]["sex"] == sex
                assert birds[parent]["hatched_on"] < row["hatched_on"]
    stays = defaultdict(list)
    for row in demo.rows["pen_birds"]:
        stays[row["bird"]].append((row["from"], row["to"] or TODAY))
    for spans in stays.values():
        spans.sort()
        assert all(end < start for (_, end), (start, _) in pairwise(spans))


def test_a_father_is_named_only_while_no_other_male_was_there(demo):
    swap = date(2025, 12, 6)
    named = {row["sire"] for row in demo.rows["trays"] if row["pen"] == "Cedar"}
    assert named == {"Cedar m1", "Cedar m2", None}
    for row in demo.rows["trays"]:
        if row["pen"] == "Cedar" and row["laid_to"]:
            if row["sire"] == "Cedar m1":
                assert row["laid_to"] < swap
            if row["sire"] == "Cedar m2":
                assert row["laid_from"] > swap + timedelta(days=7)
    assert {row["sire"] for row in demo.rows["trays"] if row["pen"] == "Willow"} == {None}


@pytest.mark.parametrize("seed", [2026, 5, 77])
def test_records_have_the_gaps_of_real_life(seed):
    made = world(seed)
    rows = generate(made, randomness(made)).rows
    trays, batches = rows["trays"], {row["batch"]: row for row in rows["batches"]}
    pulled = [row for row in trays if batches[row["batch"]]["pulled_on"]]
    assert any(row["laid_from"] is None and row["storage_days"] is None for row in trays)
    assert any(row["early_dead"] is None and row["not_opened"] for row in pulled)
    assert any(row["clear"] and row["infertile"] == 0 for row in pulled)
    assert any(row["rotten"] for row in pulled)
    uncounted = [row for row in pulled if row["hatched"] is None]
    assert [(row["batch"], row["tray"]) for row in uncounted] == [made.uncounted_tray]
    assert any(
        row["hatched"] is not None and sum(row[name] or 0 for name in OUTCOMES) < row["eggs_set"]
        for row in pulled
    )
    machines = {row["incubator"] for row in rows["incubators"]}
    assert machines - {row["incubator"] for row in rows["checks"]} == {"Chalk"}


def test_open_batches_have_no_outcome_and_one_is_overdue(demo):
    opened = {row["batch"]: row for row in demo.rows["batches"] if not row["pulled_on"]}
    longest = timedelta(days=species_table()["coturnix_quail"].longest_days)
    overdue = [name for name, row in opened.items() if (row["set_on"] + longest).date() < TODAY]
    assert overdue == [world().forgotten_batch]
    assert len(opened) == 2
    for row in demo.rows["trays"]:
        if row["batch"] in opened:
            assert all(row[name] is None for name in OUTCOMES)


def _hash(hash_seed, *arguments):
    # a locale with a decimal comma, another seed of Python's own hashes: neither may matter
    surroundings = os.environ | {"PYTHONHASHSEED": hash_seed, "LC_ALL": "de_DE.UTF-8"}
    done = subprocess.run(
        [sys.executable, "-c", HASH_OF_ALL, *arguments],
        env=surroundings,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


def test_the_same_seed_gives_the_same_bytes():
    first = _hash("0")
    assert len(first) == 64
    assert _hash("12345") == first
    assert _hash("0", "7") != first


def test_files_have_the_headings_of_the_contract_and_stay_small(demo, tmp_path):
    write_sheets(demo, tmp_path)
    assert {file.stem for file in tmp_path.iterdir()} == {sheet.name for sheet in SHEETS}
    assert sum(file.stat().st_size for file in tmp_path.iterdir()) < 5_000_000
    for sheet in SHEETS:
        with (tmp_path / f"{sheet.name}.csv").open(encoding="utf-8", newline="") as file:
            lines = list(csv.reader(file))
        assert lines[0] == [column.name for column in sheet.columns]
        assert len(lines) == len(demo.rows[sheet.name]) + 1
