"""The month in a few sentences: counts, rates with base and range, and where the year before stands.

No sentence says better or worse: a month beside twelve others is looked at here, not tested.
"""

from __future__ import annotations

from collections.abc import Sequence

from analytics.options import Selection
from analytics.studies.records import OpenBatch, SpeciesMonth
from analytics.studies.wording import counted, month_name, percent, percent_range, rate_words, species_words
from analytics.values import Interval, Month, Rate

MONTHS_A_YEAR = 12
WIDE = 0.30
"""A range wider than this is said to come from few eggs (our own choice, no source)."""


def headline(
    month: Month,
    selection: Selection,
    species: Sequence[SpeciesMonth],
    open_batches: tuple[OpenBatch, ...],
    months: tuple[Month, ...],
    against: Month | None = None,
) -> tuple[str, ...]:
    """The answer, species by species; what there is instead when nothing hatched."""
    with_eggs = [one for one in species if one.eggs_set]
    if with_eggs:
        return tuple(
            sentence for one in with_eggs for sentence in _of_species(month, selection, one, against)
        )
    return _nothing_hatched(month, selection, open_batches, months)


def _of_species(
    month: Month, selection: Selection, species: SpeciesMonth, against: Month | None
) -> tuple[str, ...]:
    hatch = species.rates["hatch_of_set"]
    name, chosen = species_words(species.species), _chosen(selection)
    if hatch.value is None or hatch.interval is None:
        eggs = _eggs(species.eggs_set, name, chosen)
        return (f"Of {eggs} in batches that hatched in {month_name(month)} no hatch is written down.",)
    return (
        _hatched(month, _eggs(round(hatch.eggs or 0), name, chosen), hatch, hatch.interval),
        *_beside_the_year(month, species, against, chosen, hatch.interval),
        *([_beside_month(species, against, chosen, hatch.interval)] if against else []),
        *_fertile(species),
    )


def _chosen(selection: Selection) -> str:
    """Said of eggs that are not all of their species in the month."""
    return " of this selection" if selection != Selection(species=selection.species) else ""


def _eggs(number: int, name: str, chosen: str) -> str:
    return f"{counted(number, f'{name} egg')}{chosen}"


def _hatched(month: Month, eggs: str, hatch: Rate, interval: Interval) -> str:
    said = (
        f"Of {eggs} set in batches that hatched in {month_name(month)}, "
        f"{round(hatch.count or 0):,} hatched: {rate_words(hatch)}."
    )
    if interval.high - interval.low > WIDE:
        said += " These are few eggs: the range is wide, and the month alone says little."
    left_out = hatch.used.left_out
    if left_out:
        are = "is" if left_out == 1 else "are"
        said += f" {counted(left_out, 'tray')} without a hatch count {are} left out."
    return said


def _beside_the_year(
    month: Month, species: SpeciesMonth, against: Month | None, chosen: str, interval: Interval
) -> list[str]:
    """The twelve months before, and the same month last year: together where they stand alike."""
    before, other, ago = species.before.get("hatch_of_set"), *_year_ago(month, species, against)
    if before is None or before.value is None or before.interval is None:
        return [f"The twelve months before hold no hatch{chosen} to set it beside."]
    hold = species.months_with_hatch
    which = "" if hold == len(species.months_before) else f" ({hold} of them with a hatch)"
    twelve = f"The twelve months before{which} stand"
    if other is None or other.value is None:
        return [_stands(twelve, before, interval)]
    last_year = f"the same month last year, {month_name(ago)}, stands"
    if _side(other.value, interval) != _side(before.value, interval):
        return [
            _stands(twelve, before, interval),
            _stands(f"{last_year[:1].upper()}{last_year[1:]}", other, interval),
        ]
    both = f"{_figures(twelve, before)}, {_figures(last_year.removesuffix(' stands'), other)}"
    return [f"{both}, both {_where_words(before.value, interval)}"]


def _year_ago(month: Month, species: SpeciesMonth, against: Month | None) -> tuple[Rate | None, Month]:
    """Hatch of the same month last year; None where it holds none, or is set beside anyway."""
    ago = month.back(MONTHS_A_YEAR)
    found = species.year_ago.get("hatch_of_set")
    return (None if found is None or found.interval is None or against == ago else found), ago


def _beside_month(species: SpeciesMonth, against: Month, chosen: str, interval: Interval) -> str:
    other = species.against.get("hatch_of_set")
    if other is None or other.value is None or other.interval is None:
        return f"{month_name(against)} holds no hatch{chosen} to set it beside."
    return _stands(f"{month_name(against)} stands", other, interval)


def _stands(what: str, other: Rate, interval: Interval) -> str:
    """Where another time stands, and whether inside this month's range."""
    assert other.value is not None
    return f"{_figures(what, other)}, {_where_words(other.value, interval)}"


def _figures(what: str, other: Rate) -> str:
    """`June 2025 stands at 71 % of 358 set (64–77 %)`."""
    assert other.value is not None
    assert other.interval is not None
    eggs, within = f"{round(other.eggs or 0):,}", percent_range(other.interval)
    return f"{what} at {percent(other.value)} % of {eggs} set ({within})"


def _side(value: float, interval: Interval) -> int:
    """-1 below a range, 0 within it, 1 above it."""
    return int(value > interval.high) - int(value < interval.low)


def _where_words(value: float, interval: Interval) -> str:
    side = _side(value, interval)
    if not side:
        return "inside this month's range."
    where = "above" if side > 0 else "below"
    return f"{where} this month's range; that is a reason to look closer, not yet a finding."


def fertility_note(species: SpeciesMonth) -> str:
    """What clear eggs probably were, else why fertility is only a range, or "" where it is known."""
    if species.clears and species.clears.sentence:
        return species.clears.sentence
    fertility = species.rates.get("fertility")
    return fertility.why if fertility and fertility.value is None and fertility.interval else ""


def _fertile(species: SpeciesMonth) -> list[str]:
    """Fertility and hatch of fertile."""
    fertility, of_fertile = species.rates["fertility"], species.rates["hatch_of_fertile"]
    if fertility.interval is None:
        return [f"Fertility is not known. {fertility.why}".rstrip()]
    return [f"Fertility was {rate_words(fertility)}, hatch of fertile {rate_words(of_fertile)}."]


def _nothing_hatched(
    month: Month, selection: Selection, open_batches: tuple[OpenBatch, ...], months: tuple[Month, ...]
) -> tuple[str, ...]:
    chosen = " of this selection" if selection != Selection() else ""
    if months:
        said = [
            f"No batch{chosen} hatched in {month_name(month)}.",
            f"The last month with a hatch is {month_name(months[-1])}.",
        ]
    else:
        said = [f"No batch{chosen} has hatched yet in these records."]
    if open_batches:
        stands = "batch is" if len(open_batches) == 1 else "batches are"
        said.append(f"{len(open_batches)} {stands} still in the machine.")
    return tuple(said)
