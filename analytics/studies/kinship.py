"""Who should be mated with whom, how related the birds are, and whether the hatch suffers from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from analytics.attribution.layout import Floats
from analytics.breeders.depression import Depression, depression
from analytics.breeders.effective_size import inbreeding_pace
from analytics.breeders.inbreeding import inbreeding, kinship
from analytics.breeders.matings import mating_plan
from analytics.breeders.pedigree import UNKNOWN, Pedigree, pedigree
from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.reference.inbreeding_slopes import inbreeding_slopes_table
from analytics.sheets.keys import normal_label
from analytics.store.birds import Stay, descents, stays
from analytics.store.counts import counting
from analytics.store.ladder import LadderTrays, asked_for, ladder_trays
from analytics.studies.kinship_records import MatingsAnswer, MatingsAsked, PenKinship
from analytics.studies.kinship_words import kinship_notes, matings_sentence
from analytics.values import Period

Pairs = tuple[tuple[str, ...], tuple[str, ...]]
"""Possible fathers and possible mothers."""


@dataclass(frozen=True, slots=True)
class Kin:
    """A flock's pedigree with what is worked out of it once.

    Attributes:
        known: the pedigree.
        found: F of every bird, in its order.
        stays: who stood where.
        by_pen: the stays of each pen, by its label compared without case and outer blanks.
    """

    known: Pedigree
    found: Floats
    stays: tuple[Stay, ...]
    by_pen: Mapping[str, Sequence[Stay]]

    @classmethod
    def made(cls, known: Pedigree, stays: Sequence[Stay]) -> Kin:
        """Works the inbreeding out and sorts the stays."""
        by_pen: dict[str, list[Stay]] = {}
        for stay in stays:
            by_pen.setdefault(normal_label(stay.pen), []).append(stay)
        return cls(known, inbreeding(known), tuple(stays), by_pen)

    def of(self, males: Sequence[str], females: Sequence[str]) -> Floats:
        """Kinship of each male with each female, shape (males, females); NaN where a parent is not known."""
        table = kinship(self.known, males, females, self.found)
        table[~self.parents_known(males), :] = np.nan
        table[:, ~self.parents_known(females)] = np.nan
        return table

    def parents_known(self, birds: Sequence[str]) -> np.ndarray:
        """Whether both parents of each bird are written down."""
        at = self.known.places(birds)
        return np.asarray((self.known.sire[at] != UNKNOWN) & (self.known.dam[at] != UNKNOWN))

    def on(self, pen: str, day: date) -> Pairs:
        """Males and females that stood in a pen on a day."""
        there = [stay for stay in self.by_pen.get(normal_label(pen), ()) if stay.holds(day)]
        males, females = (tuple(one.bird for one in there if one.sex == sex) for sex in "mf")
        return males, females


def plan_matings(store: Path, asked: MatingsAsked, as_of: date | None = None) -> MatingsAnswer:
    """The mating plan of least inbreeding, with the flock's kinship beside it.

    Args:
        store: the store's file.
        asked: which birds, and how many females a male.
        as_of: day on which the pens are looked at; None = the last day of setting.

    Raises:
        WrongUsage: an unknown bird, one of the wrong sex, no room for all females, an impossible pedigree.
        DataTooThin: no birds of both sexes.
        StoreError and its kinds: as `reading`.
    """
    kin, ladder = _ask(store)
    day = as_of or _last_day(kin, ladder)
    species = asked.species or _most_birds(kin, day)
    males, females = (_chosen(kin, asked, species, day, sex) for sex in "mf")
    most = asked.most_females or -(-len(females) // len(males))
    pens = {stay.bird: stay.pen for stay in kin.stays if stay.holds(day)}
    lines = [[pens.get(bird, "") for bird in birds] for birds in (males, females)]
    table = kinship(kin.known, males, females, kin.found)
    plan = mating_plan(table, males, females, most, *lines)
    answer = MatingsAnswer(
        species=species,
        as_of=day,
        most_females=most,
        plan=plan,
        as_now=_as_now(table, *lines),
        with_parents=int(kin.parents_known([*males, *females]).sum()),
        pens=pens_kinship(kin, day, species),
        pace=inbreeding_pace(kin.known, kin.found),
        depression=hatch_on_inbreeding(kin, ladder, species),
        published=tuple(row for row in inbreeding_slopes_table() if row.species == species),
        sentence="",
        notes=(),
    )
    return kinship_notes(matings_sentence(answer, len(males), len(females)))


def _ask(store: Path) -> tuple[Kin, LadderTrays]:
    with counting(store, Selection()) as connection:
        known, stood = pedigree(descents(connection)), stays(connection)
        asked_for(connection)
        ladder = ladder_trays(connection, Selection(Period(None, None)), "staged")
    return Kin.made(known, stood), ladder


def young_of(store: Path, by: str, day: date) -> dict[str, float]:
    """Expected inbreeding of the young of each pen, sire or dam as they stood on a day.

    Args:
        store: the store's file.
        by: pen, sire or dam.
        day: the day.

    Returns:
        Label -> mean F over the pairs of whom all parents are known; who has no such pair is not there.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    with counting(store, Selection()) as connection:
        birds, stood = descents(connection), stays(connection)
    try:
        known = pedigree(birds)
    except WrongUsage:  # `plan_matings` says what is wrong with it
        return {}
    kin = Kin.made(known, [stay for stay in stood if stay.holds(day)])
    pens = list(dict.fromkeys(stay.pen for stay in kin.stays))
    sets = [kin.on(pen, day) for pen in pens]
    found: dict[str, list[float]] = {}
    for pen, (males, females), table in zip(pens, sets, _tables(kin, sets), strict=True):
        for male, female in zip(*np.nonzero(np.isfinite(table)), strict=True):
            name = {"pen": pen, "sire": males[male], "dam": females[female]}[by]
            found.setdefault(name, []).append(float(table[male, female]))
    return {name: float(np.mean(values)) for name, values in found.items()}


def _last_day(kin: Kin, ladder: LadderTrays) -> date:
    days: list[date] = [*ladder.set_on.tolist(), *(stay.start for stay in kin.stays)]
    if not days:
        raise DataTooThin(
            "No bird stands in a pen", "Matings need birds", "Fill in the sheets birds and pen_birds"
        )
    return max(days)


def _most_birds(kin: Kin, day: date) -> str:
    kinds = [stay.species for stay in kin.stays if stay.holds(day)]
    return max(kinds, key=kinds.count) if kinds else ""


def _chosen(kin: Kin, asked: MatingsAsked, species: str, day: date, sex: str) -> list[str]:
    """The birds of one sex, as asked for or as they stand in pens."""
    given = asked.males if sex == "m" else asked.females
    if given:
        return [_named(kin, bird, sex) for bird in given]
    there = (stay for stay in kin.stays if stay.holds(day) and (stay.sex, stay.species) == (sex, species))
    birds = list(dict.fromkeys(stay.bird for stay in there))
    if not birds:
        raise DataTooThin(
            f"No {'male' if sex == 'm' else 'female'} stands in a pen",
            "Matings need both sexes",
            "Fill in the sheet pen_birds, or name the birds",
        )
    return birds


def _named(kin: Kin, label: str, sex: str) -> str:
    own = {normal_label(bird): bird for bird in kin.known.birds}
    bird = own.get(normal_label(label))
    if bird is None:
        raise WrongUsage(f"The bird {label!r}", "It is not in the records", "Write it into the sheet birds")
    other = {stay.bird for stay in kin.stays if stay.sex != sex}
    if bird in other:
        wrong = "female" if sex == "m" else "male"
        raise WrongUsage(f"{bird} is {wrong}", "A mating takes a male and a female", "Name another bird")
    return bird


def _as_now(table: Floats, male_pens: Sequence[str], female_pens: Sequence[str]) -> float | None:
    """Mean F if every female stays with the males of her pen."""
    own = np.array(male_pens)[:, None] == np.array(female_pens)[None, :]
    if not own.any(axis=0).all() or "" in female_pens:
        return None
    return float((np.where(own, table, 0).sum(axis=0) / own.sum(axis=0)).mean())


def pens_kinship(kin: Kin, day: date, species: str) -> tuple[PenKinship, ...]:
    """The pens of a species as they stand on a day: the inbreeding of their young, as far as it is known."""
    pens = dict.fromkeys(stay.pen for stay in kin.stays if stay.holds(day) and stay.species == species)
    sets = [kin.on(pen, day) for pen in pens]
    return tuple(_pen(pen, table) for pen, table in zip(pens, _tables(kin, sets), strict=True))


def _pen(pen: str, table: Floats) -> PenKinship:
    told = table[np.isfinite(table)]
    return PenKinship(
        pen=pen,
        males=table.shape[0],
        females=table.shape[1],
        of_young=float(told.mean()) if told.size else None,
        highest=float(told.max()) if told.size else None,
        pairs=table.size,
        known=int(told.size),
    )


def hatch_on_inbreeding(kin: Kin, ladder: LadderTrays, species: str) -> Depression:
    """Whether hatch of fertile goes with the inbreeding of the eggs, trays and batches allowed for.

    Clear eggs are taken as infertile. A tray's parents are those written with it, else the birds that stood
    in its pen when the eggs were laid.
    """
    own = ladder.kept(ladder.labels["species"] == species)
    passed, eggs = own.passed[:, -1], own.passed[:, 0]
    machine = np.char.add(np.char.add(own.labels["setter"], "|"), own.labels["hatcher"])
    return depression(passed, eggs, _of_young(kin, own), own.labels["pen"], own.labels["batch"], machine)


def _of_young(kin: Kin, trays: LadderTrays) -> Floats:
    """Inbreeding of each tray's eggs; NaN where a parent is not known."""
    stored = np.nan_to_num(trays.numbers["storage_days"]).astype(int)
    laid = (trays.set_on - stored.astype("timedelta64[D]")).tolist()
    own = {normal_label(bird): bird for bird in kin.known.birds}
    words = [trays.labels[word].tolist() for word in ("pen", "sire", "dam")]
    pairs = [_parents(kin, own, day, *labels) for day, *labels in zip(laid, *words, strict=True)]
    return _means(kin, pairs)


def _means(kin: Kin, pairs: Sequence[Pairs]) -> Floats:
    """Mean kinship of each set of fathers with its mothers; NaN where one of them is empty or not known."""
    sets = list(dict.fromkeys(pairs))
    tables = zip(sets, _tables(kin, sets), strict=True)
    once = {pair: float(table.mean()) if table.size else np.nan for pair, table in tables}
    return np.array([once[pair] for pair in pairs], dtype=float)


def _tables(kin: Kin, sets: Sequence[Pairs]) -> list[Floats]:
    """Kinship of the fathers with the mothers of each set, all worked out at once."""
    males, females = (list(dict.fromkeys(bird for pair in sets for bird in pair[side])) for side in (0, 1))
    rows, columns = ({bird: place for place, bird in enumerate(birds)} for birds in (males, females))
    table = kin.of(males, females)
    return [table[np.ix_([rows[one] for one in pair[0]], [columns[one] for one in pair[1]])] for pair in sets]


def _parents(kin: Kin, own: Mapping[str, str], day: date, pen: str, sire: str, dam: str) -> Pairs:
    """Possible fathers and mothers of a tray's eggs."""
    there = kin.on(pen, day)
    named = [own.get(normal_label(label), "") for label in (sire, dam)]
    fathers, mothers = ((one,) if one else birds for one, birds in zip(named, there, strict=True))
    return fathers, mothers
