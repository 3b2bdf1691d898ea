"""Are a pen's shells behind its late losses, or is the machine too humid? Thickness, water, late deaths.

That a shell is too hard to leave is never more than a hypothesis here, named only with all its conditions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from analytics.errors import DataTooThin
from analytics.incubation.signs_records import Condition, Share
from analytics.incubation.signs_shells import MachineWater, PenShells, machine_water, pen_shells, pens_apart
from analytics.options import Selection
from analytics.reference.settings import Quantity, settings_of
from analytics.reference.sources import source_table
from analytics.store.counts import counting
from analytics.store.sign_records import SignRecords, sign_records
from analytics.studies.signs_data import SignData, sign_data
from analytics.studies.wording import counted, listed, percent

SOURCES = (
    "soliman_1994",
    "saylam_1999",
    "allen_1999",
    "narushin_2002",
    "peebles_1987",
    "turkey_calcium_1977",
)
NOT_SUPPORTED = (
    "No trial of calcium doses found shells too hard to leave: turkeys given the most of three doses hatched "
    "best (1977). Studies of shells disagree: hatched quail eggs had the thinnest small ends (Soliman 1994), "
    "pipped ones the fewest pores but early dead ones the thinnest shells (Saylam 1999); thick chicken "
    "shells hatch better (Narushin 2002). Few pores would show as little water lost."
)
_WHY_OUT = {
    "once": "weighed once only",
    "number": "with another number of eggs the second time",
    "impossible": "whose weights cannot be",
}
_CONDITIONS = (
    "shells thicker than other pens' of the same days",
    "less water lost than other pens' eggs in the same batches",
    "more dead late or pipped than other pens' eggs in the same batches",
)


@dataclass(frozen=True, slots=True)
class ShellsAnswer:
    """Shells and water of one species.

    Attributes:
        species: key.
        pens: each pen on each of its feeds.
        machines: each setter.
        samples: shell samples used.
        weighed: trays weighed twice with the tare, and all trays.
        hypotheses: sentences, one a pen whose shells may be too hard to leave; mostly empty.
        water: sentences on pens and machines that lose little or much water.
        not_known: what is not recorded or too little to say, a sentence each.
        sources: the sources, as lines.
    """

    species: str
    pens: tuple[PenShells, ...]
    machines: tuple[MachineWater, ...]
    samples: int
    weighed: tuple[int, int]
    hypotheses: tuple[str, ...]
    water: tuple[str, ...]
    not_known: tuple[str, ...]
    sources: tuple[str, ...]


def shells(store: Path, selection: Selection) -> tuple[ShellsAnswer, ...]:
    """Shells and water, species by species, the one with most eggs first.

    Args:
        store: the store's file.
        selection: filters; pens and machines are held against all of the period.

    Raises:
        DataTooThin: no closed batch in the selection.
        as `counting`.
    """
    with counting(store, selection) as connection:
        found = sign_records(connection, selection.period)
    if not found:
        raise DataTooThin(
            "No closed batch of this selection has a tray whose eggs are accounted for",
            "Shells are read beside hatches",
            "Widen the days, pens or machines asked for",
        )
    return tuple(shells_of(one, sign_data(one)) for one in found)


def shells_of(records: SignRecords, data: SignData) -> ShellsAnswer:
    """The same of one species' records that are at hand."""
    farm = data.farm
    gravity: dict[str, dict[str, float]] = {}
    for one in records.shells:
        if one.specific_gravity is not None:
            gravity.setdefault(one.pen, {})[one.sampled_on.isoformat()] = one.specific_gravity
    pens, machines = pen_shells(farm, gravity), machine_water(farm)
    twice = sum(one.water_loss is not None for one in records.weighed.values())
    sources = source_table()
    return ShellsAnswer(
        species=records.species,
        pens=pens,
        machines=machines,
        samples=len(records.shells),
        weighed=(twice, len(farm.pen)),
        hypotheses=tuple(_hypothesis(one) for one in pens if one.may_be_too_hard),
        water=tuple(_water(pens_apart(farm), machines, _by_day(records.species))),
        not_known=tuple(_not_known(records, pens, twice)),
        sources=tuple(sources[name].citation() for name in SOURCES),
    )


def _named(pen: str, feed: str) -> str:
    return f'{pen} on the feed "{feed}"' if feed else pen


def _hypothesis(one: PenShells) -> str:
    assert one.thickness is not None
    assert one.water is not None
    worse = [
        f"{word} {_two(pair)}"
        for word, pair in (("dead late", one.late), ("pipped and not out", one.pipped))
        if pair and pair[0].rate > pair[1].rate
    ]
    water = f"water lost {_percents(one.water)}"
    return (
        f"{_named(one.pen, one.feed)}: shells of {_beside(one.thickness, '{:.3f} mm')}, {water}, "
        f"{listed(worse)}. That its shells are too hard to leave, or let too little through, is a "
        f"hypothesis. {NOT_SUPPORTED}"
    )


def _two(pair: tuple[Share, Share]) -> str:
    return f"{percent(pair[0].rate)} % against {percent(pair[1].rate)} %"


def _beside(known: Condition, form: str) -> str:
    others = f" against {form.format(known.others)}" if known.others is not None else ""
    return form.format(known.own) + others


def _water(
    pens: Sequence[tuple[str, str, Condition]], machines: Sequence[MachineWater], published: str
) -> Iterator[str]:
    for pen, feed, known in pens:
        way = "less" if known.is_less else "more"
        yield (
            f"{_named(pen, feed)} loses {way} water than other pens in the same batches: {_percents(known)} "
            "of the weight. That may be its shells; the size of its eggs and the age of its hens move it too."
        )
    for machine in machines:
        if machine.apart:
            yield _of_machine(machine, machine.apart, published)


def _of_machine(machine: MachineWater, known: Condition, by_day: str) -> str:
    way, air = ("less", "more humid") if known.is_less else ("more", "drier")
    is_pair = len(machine.against) == 1
    than = machine.against[0] if is_pair else "the other machines"
    said = (
        f"Eggs in {machine.incubator} lose {way} water than in {than}: {_percents(known)} of the "
        f"weight{_published(known, by_day)}."
    )
    if not machine.is_apart:
        return (
            f"{said} Only {listed(machine.pens)} had eggs in it, and nowhere else: shells or air, these "
            "records cannot tell."
        )
    which = " Which of the two is off, this does not say." if is_pair else ""
    return (
        f"{said} Each pen is held beside itself in other machines, so it may be the air, {air} "
        f"here{_humidity(machine.humidity, known.is_less)}.{which}"
    )


def _by_day(species: str) -> str:
    """`by day 14 or 15`: the days that the published losses are for."""
    days = {row.by_day for row in settings_of(species, Quantity.WATER_LOSS_PCT) if row.by_day is not None}
    return f" by day {' or '.join(f'{day:.3g}' for day in sorted(days))}" if days else ""


def _published(known: Condition, by_day: str) -> str:
    if known.published_low is None or known.published_high is None:
        return ""
    return f" (published{by_day} are {known.published_low * 100:.1f} to {known.published_high * 100:.1f} %)"


def _percents(known: Condition) -> str:
    return f"{known.own * 100:.1f} % against {(known.others or 0) * 100:.1f} %"


def _humidity(known: Condition | None, is_humid: bool) -> str:
    if known is None or known.others is None:
        return "; its humidity is not written down"
    said = f"; its humidity is {known.own:.0f} % against {known.others:.0f} %"
    return said if (known.own > known.others) is is_humid else f"{said}, which does not bear that out"


def _not_known(records: SignRecords, pens: Sequence[PenShells], twice: int) -> Iterator[str]:
    if not records.shells:
        yield "No shell sample speaks for these eggs: measure ten eggs of each pen on the same day (shells)."
    if not twice:
        yield "No tray was weighed twice with its tare: water loss is not known (trays)."
    for why, words in _WHY_OUT.items():
        trays = sum(one.why == why for one in records.weighed.values())
        if trays:
            yield f"{counted(trays, 'tray')} {words}: left out of water loss."
    for pen in pens:
        missing = [words for words, met in zip(_CONDITIONS, pen.conditions, strict=True) if met is None]
        met = [one for one in pen.conditions if one is True]
        if missing and len(met) == len(_CONDITIONS) - len(missing) and met:
            yield (
                f"{_named(pen.pen, pen.feed)}: whether it has {listed(missing)} is not recorded often "
                "enough, so nothing is said of its shells."
            )
