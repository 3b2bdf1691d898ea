"""What became of one batch's eggs, with ranges, beside what is published of the bird."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from analytics.measures.intervals import wilson
from analytics.reference.benchmarks import Benchmark, benchmarks_table
from analytics.reference.sources import source_table
from analytics.store.batch import FATES, FateCounts
from analytics.studies.batch_records import BatchFate, BatchPen, BatchSpecies, EggShare, PublishedBeside
from analytics.studies.records import Rates
from analytics.studies.wording import MEASURE_NAMES, species_words
from analytics.values import Base, Interval, Rate

CHICKS = ("hatched", "culled")
WITHOUT = ("infertile", "clear")
"""Fates of eggs in which no development was seen."""
DEAD = ("early", "mid", "late", "shell")
UNTOLD = ("not_opened", "unaccounted")
"""Fates that say only that an egg did not hatch."""
_UNKNOWN_STAGE = (*UNTOLD, "rotten", "unstaged")
FATE_NAMES = {
    "hatched": "chicks, kept",
    "culled": "chicks, not kept",
    "infertile": "infertile when opened",
    "clear": "clear: infertile, or dead very early",
    "early": "dead early",
    "mid": "dead in the middle",
    "late": "dead late, not pipped",
    "shell": "pipped, not out",
    "unstaged": "dead, stage not written down",
    "rotten": "rotten or burst",
    "cracked": "cracked",
    "not_opened": "did not hatch, not opened",
    "unaccounted": "did not hatch, nothing written down",
}
_METHOD = "Wilson, every egg its own trial"
_OF_SET = {"hatch_of_set": CHICKS, "mid_loss": ("mid",), "late_loss": ("late",), "shell_loss": ("shell",)}
_NOT_RATES = ("females_per_male", "candling_day")


def egg_share(count: int, eggs: int, left_open: int = 0) -> EggShare:
    """A count of eggs with its range; the eggs left open count as none of them and as all of them."""
    low, high = wilson(count, eggs).low, wilson(count + left_open, eggs).high
    open_words = "; eggs not told counted as none and as all" if left_open else ""
    return EggShare(count, eggs, count / eggs, Interval(low, high, 0.95, f"{_METHOD}{open_words}"), left_open)


def batch_species(counts: Sequence[FateCounts], laddered: Mapping[str, Rates]) -> tuple[BatchSpecies, ...]:
    """The batch's species with their eggs, most eggs first.

    Args:
        counts: of the store, species and pens.
        laddered: species key -> the rates of the ladder on the batch; none while it is in the machine.
    """
    found = [
        _species(
            whole,
            [one for one in counts if one.species == whole.species and one.pen],
            laddered.get(whole.species, {}),
        )
        for whole in counts
        if not whole.pen
    ]
    return tuple(sorted(found, key=lambda one: (-one.eggs_set, one.species)))


def _species(whole: FateCounts, pens: Sequence[FateCounts], ladder: Rates) -> BatchSpecies:
    published = _published(whole, ladder)
    return BatchSpecies(
        species=whole.species,
        eggs_set=whole.eggs_set,
        eggs=whole.eggs,
        hatch=_together(whole, CHICKS),
        without=_together(whole, WITHOUT),
        fates=tuple(_fate(whole, fate) for fate in FATES if whole.fates[fate]) if whole.eggs else (),
        rates=ladder,
        published=published,
        published_note="" if published else _none_published(whole.species),
        storage=whole.storage,
        trays_without_storage=whole.trays_without_storage,
        pens=tuple(
            BatchPen(one.pen, one.eggs_set, _together(one, CHICKS), _together(one, WITHOUT)) for one in pens
        ),
    )


def _none_published(species: str) -> str:
    return (
        f"No published share of hatch, fertility or death was found for {species_words(species)}. Figures of "
        "other birds are not borrowed: your own next hatches are the measure."
    )


def _together(counts: FateCounts, fates: Sequence[str]) -> EggShare | None:
    if not counts.eggs:
        return None
    return egg_share(sum(counts.fates[fate] for fate in fates), counts.eggs, _open_to(counts, fates))


def _fate(counts: FateCounts, fate: str) -> BatchFate:
    share = egg_share(counts.fates[fate], counts.eggs, _open_to(counts, (fate,)))
    return BatchFate(fate, FATE_NAMES[fate], share)


def _open_to(counts: FateCounts, fates: Sequence[str]) -> int:
    """Eggs that may belong to fates too: those of unknown stage; clear ones as infertile or early."""
    if not set(fates) <= {*WITHOUT, *DEAD}:
        return 0
    unknown = sum(counts.fates[fate] for fate in _UNKNOWN_STAGE)
    alike = fates in (("infertile",), ("early",))
    return unknown + (counts.fates["clear"] if alike else 0)


def _published(counts: FateCounts, ladder: Rates) -> tuple[PublishedBeside, ...]:
    rows = [
        row for row in benchmarks_table() if row.species == counts.species and row.measure not in _NOT_RATES
    ]
    return tuple(_beside(row, counts, ladder) for row in rows)


def _beside(row: Benchmark, counts: FateCounts, ladder: Rates) -> PublishedBeside:
    own, interval = _own(row, counts, ladder)
    return PublishedBeside(
        measure=row.measure,
        name=MEASURE_NAMES[row.measure],
        base=row.base,
        low=row.low,
        high=row.high,
        as_printed=row.as_printed,
        source=source_table()[row.source_id].citation(),
        note=row.note,
        own=own,
        own_low=interval.low if interval else None,
        own_high=interval.high if interval else None,
        stands=_stands(row, interval),
    )


def _own(row: Benchmark, counts: FateCounts, ladder: Rates) -> tuple[float | None, Interval | None]:
    """This batch's share on the figure's base; a range without a value where the records leave it open."""
    if row.base == Base.OF_SET and row.measure in _OF_SET:
        found = _together(counts, _OF_SET[row.measure])
        value = found.share if found and not found.left_open else None
        return value, found.interval if found else None
    rate = ladder.get(row.measure)
    alike = rate is not None and (rate.base == row.base or not counts.fates["cracked"])
    return (rate.value, _range(rate)) if rate and alike else (None, None)


def _range(rate: Rate) -> Interval | None:
    """Every egg its own trial; where eggs are left open, what they allow too, with chance."""
    settled = rate.possible is not None and rate.possible.low == rate.possible.high
    return rate.independent if settled else rate.interval


def _stands(row: Benchmark, own: Interval | None) -> Literal["below", "above", "around", "not_known"]:
    if own is None:
        return "not_known"
    if own.high < row.low:
        return "below"
    return "above" if own.low > row.high else "around"
