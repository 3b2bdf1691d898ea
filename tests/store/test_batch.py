"""One batch out of the store: by name or nearly, blanks beside zeros, and the other batches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import duckdb
import pytest

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.store.batch import batch_fates, batch_names, batch_pens, choose_batch, other_batches
from analytics.store.counts import counting

AT = datetime.fromisoformat


@pytest.fixture
def laid_out(store_of: Callable[..., Path]) -> Iterator[duckdb.DuckDBPyConnection]:
    store = store_of(
        pens=[{"pen": "Rowan", "species": "chukar", "males": 2}, {"pen": "Broody", "species": "chicken"}],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[
            {"batch": "May 1", "incubator": "north", "set_on": AT("2026-05-01T18:00"),
             "pulled_on": AT("2026-05-25")},
            {"batch": "May 2", "incubator": "South", "set_on": AT("2026-05-08"),
             "pulled_on": AT("2026-06-01")},
            {"batch": "June", "incubator": "North", "set_on": AT("2026-06-01")},
        ],
        trays=[
            {"batch": "may 1", "tray": "1", "pen": "Rowan", "eggs_set": 20, "hatched": 12, "infertile": 3},
            {"batch": "May 1", "tray": "2", "pen": "Rowan", "eggs_set": 10, "hatched": 5, "culled": 1,
             "early_dead": 0, "late_dead": 2, "storage_days": 6},
            {"batch": "May 1", "tray": "3", "pen": "Rowan", "eggs_set": 7},
            {"batch": "May 2", "tray": "1", "pen": "Rowan", "eggs_set": 40, "hatched": 20},
            {"batch": "May 2", "tray": "2", "pen": "Broody", "eggs_set": 8, "hatched": 8},
            {"batch": "June", "tray": "1", "pen": "Rowan", "eggs_set": 9},
        ],
    )  # fmt: skip
    with counting(store, Selection()) as connection:
        yield connection


def test_what_became_of_the_eggs_adds_up_and_blanks_stay_untold(laid_out: duckdb.DuckDBPyConnection) -> None:
    head = choose_batch(laid_out, " MAY 1 ")
    assert (head.batch, head.incubator, head.hatcher) == ("May 1", "North", "North")
    whole, rowan = batch_fates(laid_out)
    assert (whole.species, whole.pen, rowan.pen, whole.fates) == ("chukar", "", "Rowan", rowan.fates)
    # 37 set, 30 of them in trays with a hatch; tray 1 counts infertile and no dead: 5 dead, stage unknown
    assert (whole.eggs_set, whole.eggs, sum(whole.fates.values())) == (37, 30, 30)
    told = {fate: eggs for fate, eggs in whole.fates.items() if eggs}
    assert told == {"hatched": 17, "culled": 1, "infertile": 3, "unstaged": 5, "late": 2, "unaccounted": 2}
    assert (whole.trays_without_storage, whole.storage) == (2, (6.0, 6.0, 6.0))


def test_other_batches_are_of_the_same_species_machine_or_pen(laid_out: duckdb.DuckDBPyConnection) -> None:
    head = choose_batch(laid_out, "May 1")
    found = {(one.kind, one.label): (one.batches, one.chicks, one.eggs) for one in other_batches(laid_out)}
    assert found == {("farm", ""): (1, 20, 40), ("pen", "Rowan"): (1, 20, 40)}  # none else in North is out
    (rowan,) = batch_pens(laid_out, head)
    assert (rowan.males, rowan.females, rowan.setters, rowan.untried) == (2, None, 2, 0)


def test_the_latest_hatch_comes_first_and_what_is_inside_last(laid_out: duckdb.DuckDBPyConnection) -> None:
    names = batch_names(laid_out)
    assert [(one.batch, one.closed) for one in names] == [("May 2", True), ("May 1", True), ("June", False)]
    assert names[0].species == ("chicken", "chukar")


def test_a_name_that_is_not_there_is_answered_with_near_ones(laid_out: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(WrongUsage, match=r"No batch may1 in these records.*Did you mean May 1 or May 2\?"):
        choose_batch(laid_out, "may1")
    with pytest.raises(WrongUsage, match="The latest are May 2, May 1, June"):
        choose_batch(laid_out, "xyzzy")
