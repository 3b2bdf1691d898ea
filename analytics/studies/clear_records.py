"""What the study of clear eggs answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.measures.clear_records import ClearAssumptions, ClearInformed, ClearShare, FreshAdvice
from analytics.options import Selection


@dataclass(frozen=True, slots=True)
class PenClears:
    """One pen's clear eggs.

    Attributes:
        pen: label.
        share: what they are likely to be.
    """

    pen: str
    share: ClearShare


@dataclass(frozen=True, slots=True)
class SpeciesClears:
    """The clear eggs of one species.

    Attributes:
        species: key.
        whole: all pens of the selection together.
        pens: by label, those with eggs in the selection.
        informed: what the answer rests on; also records outside the selection's days and pens.
        advice: how many fresh eggs would settle it.
        assumed: what was assumed.
        sentence: the answer in one or two sentences, "" where no egg was clear or read as infertile.
    """

    species: str
    whole: ClearShare
    pens: tuple[PenClears, ...]
    informed: ClearInformed
    advice: FreshAdvice
    assumed: ClearAssumptions
    sentence: str


@dataclass(frozen=True, slots=True)
class Clears:
    """Infertile, or dead before anything showed, species by species.

    Attributes:
        selection: the filters it was asked with.
        species: most eggs first; species without a tray that tells anything are missing.
    """

    selection: Selection
    species: tuple[SpeciesClears, ...]

    def of(self, species: str) -> SpeciesClears | None:
        """The answer for a species, or None."""
        return next((one for one in self.species if one.species == species), None)
