"""What to look at now, and what to write down or set otherwise next time: only what fits this batch.

Something is proposed where what was seen asks for it and the records do not answer it yet. The order is ours:
what is lost by waiting comes first, then what tells most for its trouble.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analytics.reference.benchmarks import benchmarks_of
from analytics.reference.sources import source_table
from analytics.store.batch import BatchHead, PenNote, Recorded
from analytics.studies.batch_eggs import CHICKS, DEAD, UNTOLD, WITHOUT
from analytics.studies.batch_hours import has_hour, storage_words
from analytics.studies.batch_records import Advice, BatchHours, BatchSpecies
from analytics.studies.temperatures import heat_apart
from analytics.studies.wording import counted, listed

LONG_STORED = 7
"""Days of storage from which harm is published (Fasenko 2007, Poultry Science 86:1020, abstract seen)."""
OFF_C = 0.3
"""A display this far off is said; half a degree Fahrenheit for the whole term costs chicks (from memory)."""
FRESH = 10
"""Fresh eggs proposed to be opened of a pen (our choice, no source)."""


@dataclass(frozen=True, slots=True)
class Known:
    """Everything that the proposals look at.

    Attributes:
        head: the batch.
        species: its eggs.
        hours: when it hatched.
        recorded: what is written down around it.
        pens: its pens.
    """

    head: BatchHead
    species: tuple[BatchSpecies, ...]
    hours: BatchHours
    recorded: Recorded
    pens: tuple[PenNote, ...]

    def eggs_of(self, *fates: str) -> int:
        """Eggs of some fates, all species together."""
        return sum(one.eggs_of(*fates) for one in self.species)

    def undeveloped(self, pen: str) -> float:
        """Share of a pen's eggs that showed no development, 0 where it is not known."""
        shares = [one.without for kind in self.species for one in kind.pens if one.pen == pen]
        return max((one.share for one in shares if one), default=0.0)

    @property
    def lost(self) -> int:
        """Eggs that gave no chick, the cracked ones aside."""
        return sum(one.eggs for one in self.species) - self.eggs_of(*CHICKS, "cracked")

    @property
    def longest_stored(self) -> float | None:
        """Most days that any tray was stored."""
        return max((one.storage[2] for one in self.species if one.storage), default=None)

    @property
    def pen_names(self) -> str:
        """`pen A`, `pens A and B`, `each pen` for many."""
        labels = [pen.pen for pen in self.pens]
        if len(labels) > _FEW_PENS or not labels:
            return "each pen"
        return f"{'pen' if len(labels) == 1 else 'pens'} {listed(labels)}"

    @property
    def machines(self) -> str:
        """The batch's machine or machines."""
        return listed(list(dict.fromkeys((self.head.incubator, self.head.hatcher))))


_FEW_PENS = 3


def look_now(known: Known) -> tuple[Advice, ...]:
    """What to look at now; empty where every egg hatched, or none is told yet."""
    if known.lost <= 0:
        return ()
    return tuple(
        advice
        for asked in (
            _open_the_rest,
            _clear_eggs,
            _fresh_eggs,
            _males,
            _thermometer,
            _storage,
            _humidity,
            _dirt,
        )
        for advice in asked(known)
    )


def _open_the_rest(known: Known) -> Iterator[Advice]:
    closed = known.eggs_of(*UNTOLD)
    if closed:
        them = "the egg" if closed == 1 else f"the {closed} eggs"
        yield Advice(
            f"Open {them} that did not hatch, if you still have them.",
            "Infertile, dead early or dead in the last days: each has other causes, and nothing else "
            "tells them apart.",
            "trays: infertile, clear, early_dead, mid_dead, late_dead, internal_pip, external_pip",
        )


def _clear_eggs(known: Known) -> Iterator[Advice]:
    clear = known.eggs_of("clear")
    if clear:
        yield Advice(
            f"Open the {counted(clear, 'clear egg')}, if you still have them, and look at the germinal disc.",
            "Clear means that nothing was seen: infertile, or dead very early. After days in the machine the "
            "disc is hard to read, and the eye errs toward infertile.",
            "trays: infertile, early_dead",
        )


def _fresh_eggs(known: Known) -> Iterator[Advice]:
    without = known.eggs_of(*WITHOUT, *UNTOLD)
    if without and not known.recorded.fresh_eggs:
        yield Advice(
            f"Open about {FRESH} fresh eggs of {known.pen_names} that were not warmed, and look for the "
            "ring of a fertile disc.",
            f"{counted(without, 'egg')} of this hatch may have been infertile. Fresh eggs say so without any "
            "machine or storage in it.",
            "fresh_eggs: pen, opened_on, eggs, fertile",
        )


def _males(known: Known) -> Iterator[Advice]:
    if not known.eggs_of(*WITHOUT, *UNTOLD):
        return
    uncounted = [pen.pen for pen in known.pens if not (pen.males and pen.females)]
    if uncounted:
        yield Advice(
            f"Count the males and females of {listed(uncounted)}, and look at the male: feet, feathers "
            "around the vent, does he mate.",
            "Too many hens for a male, or a male that cannot, leaves eggs infertile.",
            "pens: males, females",
        )
    yield from _ratio(known)


def _ratio(known: Known) -> Iterator[Advice]:
    """Pens with more females to a male than any source has."""
    for species in dict.fromkeys(pen.species for pen in known.pens):
        published = benchmarks_of(species, "females_per_male")
        most = max((row.high for row in published), default=None)
        many = {
            pen.pen: pen.females / pen.males
            for pen in known.pens
            if pen.species == species
            and most
            and pen.males
            and pen.females
            and pen.females / pen.males > most
        }
        if many:
            first = sorted(many.items(), key=lambda one: -known.undeveloped(one[0]))
            own = listed([f"{pen} ({ratio:.3g})" for pen, ratio in first])
            said = "; ".join(
                f"{row.as_printed}, {source_table()[row.source_id].short()}" for row in published
            )
            yield Advice(
                f"Look at the males of {own}: in brackets the females to a male, the pen with most eggs "
                "without development first.",
                f"Published for this bird: {said}. More hens to a male can leave eggs infertile; flocks "
                "differ.",
            )


def _thermometer(known: Known) -> Iterator[Advice]:
    dead = known.eggs_of(*DEAD, "unstaged", *UNTOLD)
    asks = dead or known.hours.stands in ("early", "late")
    off = known.recorded.display_offset_c
    if asks and not known.recorded.checks:
        yield Advice(
            f"Lay a thermometer you trust beside the eggs in {known.machines}, at their height, and read "
            "both after an hour.",
            "A display may be off, and heat or cold shows at every step of a hatch. It is the first thing "
            "to rule out.",
            "checks: incubator, at, displayed_c, reference_c",
        )
    elif off is not None and abs(off) >= OFF_C:
        runs = "cooler" if off > 0 else "warmer"
        yield Advice(
            f"The display of {known.machines} is off by {heat_apart(off, signed=True)} against your "
            f"reference: the machine runs {runs} than it shows. Look again, and set it right.",
            "The same reading beside a second thermometer tells whether it is the display or the reference.",
        )


def _storage(known: Known) -> Iterator[Advice]:
    if not known.eggs_of(*WITHOUT, *UNTOLD, "early", "late", "unstaged"):
        return
    longest = known.longest_stored
    if longest is None:
        yield Advice(
            "Work out how many days these eggs lay before they were set, and how warm.",
            "Long or warm storage kills embryos early, and some so early that the egg looks infertile.",
            "trays: storage_days (or laid_from and laid_to), storage_c",
        )
    elif longest > LONG_STORED:
        stored = next(one.storage for one in known.species if one.storage and one.storage[2] == longest)
        yield Advice(
            f"Some of these eggs were {storage_words(stored)}. Look whether the clear and early dead ones "
            "were among the oldest.",
            f"Harm is published for more than {LONG_STORED} days (chickens: "
            f"{source_table()['fasenko_2007'].short()}).",
        )


def _humidity(known: Known) -> Iterator[Advice]:
    late = known.eggs_of("late", "shell") + known.recorded.marks["dry_stuck"]
    if late and not known.recorded.readings and not known.recorded.weighed:
        yield Advice(
            f"Read the humidity in {known.head.hatcher} beside a hygrometer you trust, and look at the "
            "vents.",
            "Chicks that are full-grown and not out may have had too dry, too damp or too little air in "
            "the last days.",
            "checks: displayed_rh, reference_rh",
        )


def _dirt(known: Known) -> Iterator[Advice]:
    if known.eggs_of("rotten"):
        yield Advice(
            "Look at the nests, at whether eggs were washed, cracked or sweated, and when the machine was "
            "cleaned last.",
            "These are what rotten eggs usually come from.",
            "incubator_events: cleaned",
        )


def record_next(known: Known) -> tuple[Advice, ...]:
    """What to write down, or set otherwise, so that the next months can tell; what tells most first."""
    return tuple(
        advice
        for asked in (
            _split, _label_trays, _count_stages, _count_storage, _count_hours, _check_display, _write_pens,
            _weigh,
        )
        for advice in asked(known)
    )  # fmt: skip


def _split(known: Known) -> Iterator[Advice]:
    alone = [pen for pen in known.pens if pen.setters < 2]
    if not alone:
        return
    names = listed([pen.pen for pen in alone])
    whose = f"{'pen' if len(alone) == 1 else 'pens'} {names}"
    if any(pen.untried for pen in alone):
        yield Advice(
            f"Set half of the eggs of {whose} in another machine in the same week, the other half in "
            f"{known.head.incubator}.",
            "So far pen and machine go together: a poor pen and a poor machine look the same. Halves of "
            "the same eggs in two machines tell them apart, hatch by hatch.",
            "batches: one row a machine; trays: one row a half",
        )
        return
    yield Advice(
        f"Set half of the eggs of {whose} in another machine in the same week, if you can borrow or get one.",
        "With one machine, what it costs and what the birds cost cannot be told apart, however many "
        "hatches there are.",
        "incubators: a row for it; batches: one row a machine; trays: one row a half",
    )
    if known.recorded.pens < 2:
        yield Advice(
            f"Or set eggs of other birds beside those of {names}, in the same machine and week.",
            "Where both do badly, it is not these birds alone; where the others do well, it is not the "
            "machine alone.",
            "pens: a row for them; trays: one row each",
        )


def _label_trays(known: Known) -> Iterator[Advice]:
    one_heap = all(len(one.pens) == 1 and one.eggs_set == one.pens[0].eggs_set for one in known.species)
    stored = [one.storage for one in known.species if one.storage]
    mixed = not stored or any(high - low < 1 for low, _, high in stored)
    if one_heap and mixed and len(known.pens) == 1:
        yield Advice(
            "Give the eggs of the first laying days and those of the last a tray of their own, each with "
            "a label.",
            "Eggs of one pen in one machine, stored short and long, tell what storage costs.",
            "trays: one row a tray, laid_from, laid_to",
        )


def _count_stages(known: Known) -> Iterator[Advice]:
    if known.eggs_of(*UNTOLD, "unstaged") or not sum(one.eggs for one in known.species):
        yield Advice(
            "Open what does not hatch on the day it is taken out, and count it by stage; write 0 where "
            "you looked and found none.",
            "Each step of the way has other causes.",
            "trays: infertile, clear, early_dead, mid_dead, late_dead, internal_pip, external_pip, rotten",
        )


def _count_storage(known: Known) -> Iterator[Advice]:
    if any(one.trays_without_storage for one in known.species):
        yield Advice(
            "Write on the eggs, or on their tray, when they were laid.",
            "Storage is the commonest cause of early death, and cannot be worked out afterwards.",
            "trays: laid_from, laid_to, storage_c",
        )


def _count_hours(known: Known) -> Iterator[Advice]:
    no_hour = not has_hour(known.head.set_on)
    if not known.recorded.counts or no_hour:
        hour = "Write the hour with the day of setting" if no_hour else ""
        count = "count the chicks that are out morning and evening, from the first pip on"
        both = " and ".join(part for part in (hour, "" if known.recorded.counts else count) if part)
        yield Advice(
            f"{both[0].upper()}{both[1:]}.",
            "An early hatch points to warmth, a late one to cold or to storage; a few hours tell before "
            "chicks are lost.",
            "batches: set_on as 2026-03-14T18:30; hatch_counts: counted_at, out_so_far",
        )


def _check_display(known: Known) -> Iterator[Advice]:
    if not known.recorded.checks:
        yield Advice(
            f"Read a reference thermometer in {known.machines} once in every batch.",
            "It tells a display that drifts before a hatch does.",
            "checks: incubator, at, displayed_c, reference_c",
        )


def _write_pens(known: Known) -> Iterator[Advice]:
    unknown = [pen.pen for pen in known.pens if pen.hens_hatched_on is None]
    if unknown:
        yield Advice(
            f"Write when the hens of {listed(unknown)} hatched; a rough day will do.",
            "Hens' age moves fertility and death, and can then be told from the pen.",
            "pens: hens_hatched_on, males, females",
        )


def _weigh(known: Known) -> Iterator[Advice]:
    if not known.recorded.weighed:
        yield Advice(
            "Weigh the trays when they are set and when they are moved to the hatcher, and the empty tray "
            "once.",
            "The water lost says whether the machine was too dry or too damp for these eggs.",
            "trays: tare_g, weight_set_g, weight_transfer_g, weighed_on",
        )
