"""Two lots of storage: the fewest pens, by every choice of them, and what must hold before and after."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from analytics.planning.storage_lots import NextTray, StorageTold, storage_lots

KEPT = (2.0, 7.0)


def _records(pens: dict[str, float], trays: int, spread: float = 0.0) -> StorageTold:
    """Each pen's trays of the same days, in one machine and six months by turns."""
    rows = [(pen, days + spread * (at % 2), f"2026-{at % 6 + 1:02}") for pen, days in pens.items()
            for at in range(trays)]  # fmt: skip
    pen, days, month = zip(*rows, strict=True)
    beside = {"pen": np.array(pen), "incubator": np.full(len(rows), "North"), "month": np.array(month)}
    return StorageTold(np.array(days), beside)


def _next(pens: dict[str, float]) -> list[NextTray]:
    return [NextTray(pen, days, {"pen": pen, "incubator": "North"}, True) for pen, days in pens.items()]


def _explained(days: np.ndarray, labels: np.ndarray) -> float:
    """Share of the variation between the labels, from its definition."""
    between = sum(
        (labels == one).sum() * (days[labels == one].mean() - days.mean()) ** 2
        for one in set(labels.tolist())
    )
    return float(between / ((days - days.mean()) ** 2).sum())


def test_where_days_differ_within_pens_nothing_is_planned() -> None:
    told = _records({"Ash": 3, "Elm": 6}, 12, spread=3)
    assert told.goes_with() == ()
    assert storage_lots(told, _next({"Ash": 3, "Elm": 6}), KEPT, 2).sets == 0


def test_the_fewest_pens_that_tell_it_are_taken() -> None:
    pens = {"Ash": 2.0, "Elm": 7.0, "Oak": 4.0, "Yew": 9.0}
    for trays, sets in ((6, 1), (6, 2), (12, 2), (20, 2), (20, 3)):
        told = _records(pens, trays)
        assert told.goes_with() == ("pen",)
        found = storage_lots(told, _next(pens), KEPT, sets)
        enough = []
        for count in range(1, 5):
            for chosen in combinations(pens, count):
                rows = [
                    (pen, day) for pen in pens for day in (KEPT if pen in chosen else (pens[pen],))
                ] * sets
                days = np.concatenate((told.days, [day for _, day in rows]))
                label = np.concatenate((told.beside["pen"], [pen for pen, _ in rows]))
                if _explained(days, label) <= 0.95:
                    enough.append(count)
        if enough:
            assert (len(found.pens), found.sets) == (min(enough), sets)
        else:
            assert len(found.pens) == 4
            assert found.sets > sets


def test_always_the_same_days_and_no_eggs_for_two_lots_are_said() -> None:
    told = _records({"Ash": 4.0, "Elm": 4.0}, 10)
    assert set(told.goes_with()) == {"pen", "incubator", "month"}
    found = storage_lots(told, _next({"Ash": 4.0, "Elm": 4.0}), KEPT, 2)
    assert (len(found.pens), found.sets) == (1, 2)
    few = storage_lots(told, [NextTray("Ash", 4.0, {"pen": "Ash"}, False)], KEPT, 2)
    assert few.why == "No pen has eggs for two lots."
