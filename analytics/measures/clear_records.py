"""What goes into the sharing out of clear eggs, and what comes out: plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class ClearTrays:
    """Trays of one species, one entry a tray in every array.

    Attributes:
        group: code of whoever shares one fertility (a pen, in a span of days).
        batch: code of the batch.
        eggs: eggs followed (set and not cracked).
        silent: eggs without development, clear or read as infertile; not whole where eggs of unknown stage
            were shared out.
        clear: of them, as counted, not told apart.
        infertile: of them, as counted, opened after incubation and read as infertile.
        early: dead early; not whole likewise.
        known: share of the eggs of which the stage is known (hatched or opened), 0..1.
        storage_days: NaN where not recorded.
        storage_c: mean temperature of storage, °C; NaN where not recorded.
        days_incubated: when the unhatched eggs were opened.
    """

    group: Codes
    batch: Codes
    eggs: Floats
    silent: Floats
    clear: Floats
    infertile: Floats
    early: Floats
    known: Floats
    storage_days: Floats
    storage_c: Floats
    days_incubated: Floats


@dataclass(frozen=True, slots=True)
class FreshEggs:
    """Fresh eggs that were opened, one entry a pen and day.

    Attributes:
        group: code as in `ClearTrays`.
        eggs: eggs opened.
        fertile: of them fertile.
    """

    group: Codes
    eggs: Floats
    fertile: Floats


@dataclass(frozen=True, slots=True)
class ClearAssumptions:
    """What no record of the farm tells; assumed, no source unless one is named.

    Attributes:
        fresh_survive: lowest share of fertile fresh eggs, set at once, that get as far as to be seen.
        misread_fresh: how many of the eggs dead very early, opened on the first day of incubation, may be
            read as infertile at most, 0..1.
        misread_all_after: days of incubation after which all of them may be. That the naked eye errs so far
            on eggs left to the end: Hemmings and Evans 2020, Biol. Lett. (read in its abstract).
    """

    fresh_survive: float = 0.95
    misread_fresh: float = 0.2
    misread_all_after: float = 14.0


@dataclass(frozen=True, slots=True)
class ClearShare:
    """What clear eggs of one pen, or of all together, are likely to be.

    Attributes:
        eggs: eggs followed.
        clear: clear eggs that were not told apart, as counted.
        read_infertile: eggs opened after incubation and read as infertile.
        fresh_eggs: fresh eggs opened that belong to these eggs.
        fertility: the likeliest share of fertile eggs; None where no fresh egg was opened, since without one
            there is only a range.
        fertility_low: lower end of its 95 % interval, which contains what the clears leave open.
        fertility_high: upper end.
        infertile_low: fewest of the clear eggs that were probably infertile (95 %, their luck included).
        infertile_high: most of them.
    """

    eggs: float
    clear: float
    read_infertile: float
    fresh_eggs: int
    fertility: float | None
    fertility_low: float
    fertility_high: float
    infertile_low: float
    infertile_high: float

    @property
    def early_share(self) -> tuple[float, float] | None:
        """Share of the clear eggs that is very early death, low and high; None without clear eggs."""
        if self.clear <= 0:
            return None
        return 1 - self.infertile_high / self.clear, 1 - self.infertile_low / self.clear


@dataclass(frozen=True, slots=True)
class ClearInformed:
    """What the sharing out rests on, counted over all records of the species that were used.

    Attributes:
        eggs: eggs followed.
        trays: trays.
        storage_trays: of them with the days of storage recorded.
        storage_low: shortest storage, days; None where none is recorded.
        storage_high: longest.
        storage_spread: standard deviation of the days of storage within pens.
        fresh_eggs: fresh eggs opened, of pens that have trays.
        read_infertile: eggs opened after incubation and read as infertile.
        early_opened: of them opened so early that most are surely infertile.
    """

    eggs: float
    trays: int
    storage_trays: int
    storage_low: float | None
    storage_high: float | None
    storage_spread: float
    fresh_eggs: int
    read_infertile: float
    early_opened: float

    @property
    def silent(self) -> bool:
        """Whether nothing tells infertile from very early dead: storage all alike, nothing opened early."""
        return self.storage_spread < 1 and not self.fresh_eggs and not self.early_opened


@dataclass(frozen=True, slots=True)
class FreshAdvice:
    """How many fresh eggs would settle it.

    Attributes:
        eggs: fresh eggs to open in all; 0 where the interval is narrow enough already.
        within: half the width of the fertility interval that they bring, 0..1.
        alike: correlation of the eggs of a pen opened on one day, as in the store.
    """

    eggs: int
    within: float
    alike: float


@dataclass(frozen=True, slots=True)
class ClearSplit:
    """Clear eggs of one species shared out.

    Attributes:
        whole: all groups asked for, together.
        groups: code -> the share of that group.
        informed: what it rests on.
        advice: how many fresh eggs to open.
        assumed: what was assumed.
    """

    whole: ClearShare
    groups: dict[int, ClearShare]
    informed: ClearInformed
    advice: FreshAdvice
    assumed: ClearAssumptions
