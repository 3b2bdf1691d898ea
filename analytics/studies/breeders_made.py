"""Who is ranked: pens, sires or dams with their eggs, and what the own loss of each is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analytics.attribution.layout import Floats
from analytics.breeders.ranking import Part
from analytics.store.cells import Labels
from analytics.studies.causes_data import LossData


@dataclass(frozen=True, slots=True)
class Made:
    """A pen, sire or dam.

    Attributes:
        eggs: eggs counted.
        chicks: chicks out of them.
        parts: levels of the ledger that its own loss is made of.
        pens: pens that its eggs came from.
        one_with: pens, birds or both that it cannot be told from; () = it is told by itself.
    """

    eggs: float
    chicks: float
    parts: tuple[Part, ...]
    pens: tuple[str, ...]
    one_with: tuple[str, ...] = ()


def made_of(data: LossData, by: str) -> dict[str, Made]:
    """Label -> who is ranked, those with eggs that are counted."""
    trays, counted = data.trays(), data.ladder.wanted
    eggs, chicks = trays.eggs[counted], trays.passed[counted, -1]
    pens = data.ladder.labels["pen"][counted]
    of_pens = _sums(pens, eggs)
    if by == "pen":
        hatched = _sums(pens, chicks)
        return {
            pen: Made(count, hatched[pen], (("pen", pen, count),), (pen,), _one_with_pen(data, pen))
            for pen, count in of_pens.items()
        }
    birds = data.parents.known[by][counted]
    of_birds, hatched = _sums(birds, eggs), _sums(birds, chicks)
    return {
        bird: _bird(data, by, bird, (of_birds[bird], hatched[bird]), of_pens, pens[birds == bird])
        for bird in of_birds
        if bird
    }


def _bird(
    data: LossData, by: str, bird: str, told: tuple[float, float], of_pens: Mapping[str, float], pens: Labels
) -> Made:
    """A sire or dam with what it cannot be told from."""
    own: tuple[Part, ...] = ((by, bird, told[0]),)
    camp = data.parents.camp_of(by, bird)
    with_pens: tuple[str, ...] = ()
    if camp and camp.is_one:
        own = ()
    mate = {dam: sire for sire, dam in data.parents.couples}.get(bird, "") if by == "dam" else ""
    if mate:
        own = (("sire", mate, told[0]),)
    if camp and (camp.one_pen or len(camp.birds) == 1):
        with_pens = tuple(pen for pen in camp.pens if pen in of_pens)
        eggs = sum(of_pens[pen] for pen in with_pens)
        own += tuple(("pen", pen, eggs) for pen in with_pens)
    one_with = (*with_pens, *([mate] if mate else []))
    return Made(*told, own, tuple(np.unique(pens).tolist()), one_with)


def _one_with_pen(data: LossData, pen: str) -> tuple[str, ...]:
    """Birds known of a pen that stood in no other one."""
    camps = [data.parents.camp_with(parent, pen) for parent in data.parents.known]
    return tuple(bird for camp in camps if camp and camp.one_pen for bird in camp.birds)


def pen_in(made: Made) -> bool:
    """Whether a bird is one with its pen."""
    return made.pens[0] in made.one_with


def _sums(labels: Labels, values: Floats) -> dict[str, float]:
    names, codes = np.unique(labels, return_inverse=True)
    return dict(zip(names.tolist(), np.bincount(codes, values).tolist(), strict=True))
