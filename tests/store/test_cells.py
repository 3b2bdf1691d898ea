"""Trays as arrays: every rule of sharing by hand, filters, and the sums that the rates are made of."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.errors import WrongUsage
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.store.cells import FAMILY_OF, Cells, cells, lines_of, settled
from analytics.store.counts import Span, counting, strata
from analytics.values import Period

AT = datetime.fromisoformat
Make = Callable[..., Path]
PENS = [
    {"pen": "Rowan", "species": "coturnix_quail", "line": "white", "hens_hatched_on": date(2025, 9, 1),
     "males": 1, "females": 4},
    {"pen": "Alder", "species": "coturnix_quail", "males": 2, "females": 6},
]  # fmt: skip
BATCHES = [
    {"batch": "B1", "incubator": "North", "hatcher": "South", "set_on": AT("2026-03-01"),
     "pulled_on": AT("2026-03-19")},
    {"batch": "B2", "incubator": "north", "set_on": AT("2026-03-20"), "pulled_on": AT("2026-04-07")},
    {"batch": "B3", "incubator": "South", "set_on": AT("2026-04-20")},
]  # fmt: skip


def _asked(store: Path, measure: str, **filters: Any) -> Cells:
    with counting(store, Selection(**filters)) as connection:
        return cells(connection, measure)


def _tray(batch: str, tray: str, pen: str, eggs_set: int, **counts: Any) -> dict[str, Any]:
    return {"batch": batch, "tray": tray, "pen": pen, "eggs_set": eggs_set, **counts}


def test_each_measure_counts_its_own_eggs(store_of: Make) -> None:
    """One tray: 40 set, 1 cracked, 3 infertile, 2 clear, 2 early, 1 mid, 3 late, 2 pipped, 24 kept, 2 not."""
    store = store_of(
        pens=PENS,
        batches=BATCHES,
        trays=[
            _tray("B1", "1", "Rowan", 40, hatched=24, culled=2, infertile=3, clear=2, early_dead=2,
                  mid_dead=1, late_dead=3, internal_pip=1, external_pip=1, cracked=1)
        ],
    )  # fmt: skip
    by_hand = {  # passed and entered with clear eggs infertile; then with them dead before anything showed
        "fertility": (34, 39, 36, 39),
        "hatch_of_set": (26, 40, 26, 40),
        "saleable_of_set": (24, 40, 24, 40),
        "cull_rate": (2, 26, 2, 26),
        "hatch_of_fertile": (26, 34, 26, 36),
        "early_loss": (2, 34, 4, 36),
        "mid_loss": (1, 34, 1, 36),
        "late_loss": (3, 34, 3, 36),
        "shell_loss": (2, 34, 2, 36),
        "rotten": (0, 40, 0, 40),
    }
    assert set(by_hand) == set(FAMILY_OF)
    for measure, wanted in by_hand.items():
        found = _asked(store, measure)
        ends = [settled(found, measure, clear_is_infertile=end) for end in (True, False)]
        assert tuple(float(part[0]) for end in ends for part in end) == wanted, measure


def test_unknown_eggs_follow_tray_then_cell_then_pen_then_species(store_of: Make) -> None:
    store = store_of(
        pens=PENS,
        batches=BATCHES,
        trays=[
            # its own 5 opened: 4 infertile, 1 late; the unknown 5 likewise: 4 and 1
            _tray("B1", "own", "Rowan", 20, hatched=10, infertile=4, late_dead=1, not_opened=5),
            # 2 opened here, 7 in the cell (B1 x Rowan): 5 infertile of 7; the unknown 7 give 5
            _tray("B1", "cell", "Rowan", 20, hatched=11, infertile=1, late_dead=1, not_opened=7),
            # nothing opened in B2 x Rowan; the pen's 7: 5 infertile of 7
            _tray("B2", "pen", "Rowan", 20, hatched=6, infertile=0, not_opened=14),
            # nothing opened of Alder at all; the species' 7 likewise
            _tray("B2", "species", "Alder", 20, hatched=13, infertile=0, not_opened=7),
        ],
    )
    found = _asked(store, "fertility")
    infertile = dict(zip(found.pen.tolist(), (found.eggs - found.passed).tolist(), strict=True))
    assert found.eggs.tolist() == [20, 20, 20, 20]
    assert (found.eggs - found.passed).tolist() == pytest.approx([1 + 5, 4 + 4, 10, 5])
    assert infertile["Alder"] == pytest.approx(5)


def test_a_tray_whose_unknown_eggs_nothing_tells_is_left_out(store_of: Make) -> None:
    only = _tray("B1", "1", "Rowan", 20, hatched=10, infertile=0, not_opened=10)
    store = store_of(pens=PENS, batches=BATCHES, trays=[only])
    assert len(_asked(store, "fertility").eggs) == 0
    assert _asked(store, "hatch_of_set").passed.tolist() == [10]


def test_clear_eggs_matter_only_where_they_do(store_of: Make) -> None:
    store = store_of(
        pens=PENS, batches=BATCHES, trays=[_tray("B1", "1", "Rowan", 10, hatched=6, infertile=1, clear=3)]
    )
    assert _asked(store, "fertility").clear.tolist() == [3]
    assert _asked(store, "hatch_of_set").clear.tolist() == [0]


def test_what_stands_beside_a_tray(store_of: Make) -> None:
    birds = [{"bird": "m1", "sex": "m"}, {"bird": "f1", "sex": "f"}, {"bird": "f2", "sex": "f"}]
    store = store_of(
        pens=PENS,
        batches=BATCHES,
        birds=birds,
        pen_birds=[
            {"pen": "rowan", "bird": one["bird"], "from": date(2026, 3, 10), "to": date(2026, 3, 31)}
            for one in birds
        ],
        trays=[
            _tray("B1", "1", "Rowan", 10, hatched=6, laid_from=date(2026, 2, 21), laid_to=date(2026, 2, 25)),
            _tray("B2", "1", "Rowan", 10, hatched=5, storage_days=3),
            _tray("B2", "2", "Alder", 10, hatched=4),
            _tray("B3", "1", "Alder", 10),
        ],
    )
    found = _asked(store, "hatch_of_set")
    assert found.pen.tolist() == ["Rowan", "Rowan", "Alder"]  # the open batch is in no rate
    assert found.batch.tolist() == ["B1", "B2", "B2"]
    assert found.setter.tolist() == ["North"] * 3  # one spelling
    assert found.hatcher.tolist() == ["South", "North", "North"]
    assert found.hatch_on.astype(str).tolist() == ["2026-03-19", "2026-04-07", "2026-04-07"]
    assert found.month.astype(str).tolist() == ["2026-03", "2026-04", "2026-04"]
    assert found.storage_days.tolist()[:2] == [6, 3]  # 1 March less 23 February
    assert np.isnan(found.storage_days[2])
    assert found.hen_weeks.tolist()[0] == pytest.approx((date(2026, 2, 23) - date(2025, 9, 1)).days / 7)
    assert np.isnan(found.hen_weeks[2])
    # in February no bird is recorded, so the pen's own row; on 17 March 1 male and 2 females
    assert found.males_per_female.tolist() == pytest.approx([1 / 4, 1 / 2, 2 / 6])


def test_filters_reach_the_trays(store_of: Make) -> None:
    trays = [_tray(b, p, p, 10, hatched=5) for b in ("B1", "B2") for p in ("Rowan", "Alder")]
    store = store_of(pens=PENS, batches=BATCHES, trays=trays)
    april = Period(date(2026, 4, 1), None)
    assert _asked(store, "hatch_of_set", period=april).batch.tolist() == ["B2", "B2"]
    assert _asked(store, "hatch_of_set", pens=(" rowan",)).pen.tolist() == ["Rowan", "Rowan"]
    assert _asked(store, "hatch_of_set", incubators=("south",)).batch.tolist() == ["B1", "B1"]
    with pytest.raises(WrongUsage, match="There are coturnix_quail"):
        _asked(store, "hatch_of_set", species=("chicken",))


def test_sums_are_those_of_the_rates(store_of: Make) -> None:
    """Where no clear egg leaves a rate open, the trays of a pen add up to its rate."""
    random = np.random.default_rng(20260401)
    trays = []
    for number in range(24):
        parts = random.multinomial(30, [0.6, 0.02, 0.12, 0.06, 0.03, 0.07, 0.04, 0.03, 0.03])
        names = ("hatched", "culled", "infertile", "early_dead", "mid_dead", "late_dead", "internal_pip",
                 "rotten", "not_opened")  # fmt: skip
        counts = {name: int(count) for name, count in zip(names, parts, strict=True)}
        trays.append(
            _tray(f"B{1 + number % 2}", str(number), ("Rowan", "Alder")[number % 3 > 0], 30, **counts)
        )
    store = store_of(pens=PENS, batches=BATCHES, trays=trays)
    with counting(store, Selection()) as connection:
        found = {one.pen: one.families for one in strata(connection, [Span(Period(None, None))])}
        arrays = {measure: cells(connection, measure) for measure in FAMILY_OF}
    for pen in ("Rowan", "Alder"):
        known = rates(found[pen], {})
        for measure, trays_of in arrays.items():
            own = trays_of.pen == pen
            assert trays_of.passed[own].sum() == pytest.approx(known[measure].count), measure
            assert trays_of.eggs[own].sum() == pytest.approx(known[measure].eggs), measure


def test_lines_of_pens(store_of: Make) -> None:
    with counting(store_of(pens=PENS), Selection()) as connection:
        assert lines_of(connection) == {"Rowan": "white", "Alder": ""}
