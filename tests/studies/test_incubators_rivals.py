"""Rivals of a warm or cool machine: what the records rule out, and what they only seem to."""

from __future__ import annotations

from datetime import datetime, timedelta

from analytics.store.timing import BatchTraits, CountedBatch
from analytics.studies.incubators_records import Rival
from analytics.studies.incubators_rivals import HIGH, Sides, rivals

START = datetime.fromisoformat("2026-03-02T09:00")


def _side(machine: str, pens: list[tuple[str, ...]]) -> list[CountedBatch]:
    return [
        CountedBatch(
            batch=f"{machine}{number}",
            setter=machine,
            hatcher=machine,
            species="coturnix_quail",
            set_on=START + timedelta(days=7 * number),
            transfer_on=None,
            pulled_on=None,
            traits=BatchTraits(60, 5.0, 20.0, 12.0, own),
            counts=None,
            why="",
        )
        for number, own in enumerate(pens)
    ]


def _asked(shared: int, of: int, *, own_months: bool = False) -> tuple[Rival, ...]:
    """So many batches of the machine held eggs of the pen that was elsewhere too."""
    these = _side("North", [("Rowan", "Alder")] * shared + [("Alder",)] * (of - shared))
    return rivals(Sides(these, _side("South", [("Rowan",)] * 5), 5.0, own_months, None))


def test_one_shared_batch_does_not_rule_out_the_pens() -> None:
    for shared, of, says in ((0, 24, "not_recorded"), (1, 24, "not_recorded"), (11, 24, "not_recorded"),
                             (12, 24, "against"), (24, 24, "against")):  # fmt: skip
        pens = _asked(shared, of)[0]
        assert pens.says == says, shared
        if shared:
            assert f"{shared} of 24 batches held eggs of pens that were counted in another" in pens.sentence
    assert "too few to tell pen and machine apart" in _asked(1, 24)[0].sentence


def test_the_height_of_the_ground_is_in_no_record() -> None:
    for own_months in (False, True):
        ground = next(one for one in _asked(5, 5, own_months=own_months) if one.cause == HIGH)
        assert ground.says == "not_recorded"
