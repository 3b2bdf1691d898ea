"""Do rotten eggs and early deaths grow with the days since a machine was cleaned, or is that chance?

The slope is the one of trends: machines and pens held equal, batches at random, so that the many eggs of a
batch do not pass for many witnesses of one cleaning. A link is no proof: storage and season are not held
equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analytics.comparisons.slope import clustered_slope
from analytics.comparisons.slope_records import Slope
from analytics.errors import DataTooThin
from analytics.incubation.signs_farm import Farm, Floats
from analytics.incubation.signs_records import Share
from analytics.options import Selection
from analytics.store.counts import counting
from analytics.store.sign_records import sign_records
from analytics.studies.cautions import DISINFECTING, NOTIFIABLE, ROTTEN
from analytics.studies.signs_data import SignData, sign_data
from analytics.studies.wording import counted, percent

DAYS = "days_since_cleaning"
SIGNS = {"rotten": "rotten", "dead_first_week": "dead early"}
"""Sign -> what became of the eggs."""
FEWEST_BATCHES = 6
"""Batches with a known cleaning before a slope is asked (our own choice)."""
STEP = 30
"""Days by which a slope is told."""
LEVEL = 0.05 / len(SIGNS)
"""Both losses are looked at, so each must be surer."""
NOT_PROOF = "A link is no proof: batches far from a cleaning may also differ in season and storage."
HOW_TO = "Write down every cleaning in the sheet incubator_events (event: cleaned), with machine and day."


@dataclass(frozen=True, slots=True)
class Band:
    """Eggs of the batches set within some days after a cleaning.

    Attributes:
        first: fewest days since the cleaning.
        last: most days.
        share: the eggs.
    """

    first: float
    last: float
    share: Share


@dataclass(frozen=True, slots=True)
class CleaningSlope:
    """How one loss goes with the days since the last cleaning.

    Attributes:
        sign: `rotten` or `dead_first_week`.
        slope: change of the share per day; `why` where there is none.
        bands: batches in up to three parts of equal number, by days since the cleaning.
        batches: batches with a known cleaning.
        sentence: in words.
    """

    sign: str
    slope: Slope
    bands: tuple[Band, ...]
    batches: int
    sentence: str


@dataclass(frozen=True, slots=True)
class HygieneAnswer:
    """Cleaning and losses of one species.

    Attributes:
        species: key.
        rows: rotten and early losses; empty where cleaning tells nothing.
        batches: closed batches, and those whose last cleaning is written down.
        sentence: the answer.
        not_known: what is missing, a sentence each.
        cautions: the usual care, a sentence or two each.
    """

    species: str
    rows: tuple[CleaningSlope, ...]
    batches: tuple[int, int]
    sentence: str
    not_known: tuple[str, ...]
    cautions: tuple[str, ...]


def hygiene(store: Path, selection: Selection) -> tuple[HygieneAnswer, ...]:
    """Rotten and early losses against days since cleaning, species by species, most eggs first.

    Args:
        store: the store's file.
        selection: filters; only trays of the selection are counted.

    Raises:
        DataTooThin: no closed batch in the selection.
        as `counting`.
    """
    with counting(store, selection) as connection:
        found = sign_records(connection, selection.period)
    if not found:
        raise DataTooThin(
            "No closed batch of this selection has a tray whose eggs are accounted for",
            "Cleaning is read beside hatches",
            "Widen the days, pens or machines asked for",
        )
    return tuple(hygiene_of(sign_data(one)) for one in found)


def hygiene_of(data: SignData) -> HygieneAnswer:
    """The same of one species' records that are at hand."""
    farm = data.farm.kept(data.wanted)
    days = _days(farm)
    known = np.unique(farm.batch[np.isfinite(days)])
    why = _why_none(days[np.isfinite(days)], len(known))
    rows = () if why else tuple(_row(farm, sign, days, len(known)) for sign in SIGNS if sign in farm.signs)
    all_batches = len(np.unique(farm.batch))
    return HygieneAnswer(
        species=data.species,
        rows=rows,
        batches=(all_batches, len(known)),
        sentence=why or " ".join(one.sentence for one in rows),
        not_known=tuple(_not_known(all_batches, len(known), has_rows=bool(rows))),
        cautions=(ROTTEN, DISINFECTING, NOTIFIABLE),
    )


def _days(farm: Farm) -> Floats:
    """Days since the setter was cleaned, of each tray; NaN where no cleaning before it is written down."""
    by_batch: Mapping[str, float] = farm.notes.get(DAYS, {})
    return np.array([by_batch.get(name, np.nan) for name in farm.batch.tolist()])


def _why_none(days: Floats, batches: int) -> str:
    if not batches:
        return f"Whether losses go with cleaning cannot be told: no cleaning is written down. {HOW_TO}"
    if batches < FEWEST_BATCHES:
        return (
            f"Whether losses go with cleaning cannot be told: the last cleaning is known of "
            f"{counted(batches, 'batch', 'batches')} only. {HOW_TO}"
        )
    if np.ptp(days) < 1:
        return (
            f"Whether losses go with cleaning cannot be told: every batch was set {days[0]:.0f} days after "
            "one. Only batches set at different times after a cleaning would tell."
        )
    return ""


def _row(farm: Farm, sign: str, days: Floats, batches: int) -> CleaningSlope:
    seen, eggs = farm.signs[sign]
    told = np.isfinite(eggs) & np.isfinite(days)
    slope = clustered_slope(
        seen[told], eggs[told], days[told], farm.pen[told], farm.batch[told], (farm.setter[told],)
    ).within
    return CleaningSlope(sign, slope, _bands(farm, sign, days), batches, _sentence(sign, slope))


def _bands(farm: Farm, sign: str, days: Floats) -> tuple[Band, ...]:
    names, first = np.unique(farm.batch, return_index=True)
    of_batch = days[first]
    known = np.isfinite(of_batch)
    order = names[known][np.argsort(of_batch[known], kind="stable")]
    found = []
    for part in np.array_split(order, 3):
        which = np.isin(farm.batch, part)
        share = farm.share(sign, which)
        if share is not None:
            found.append(Band(float(days[which].min()), float(days[which].max()), share))
    return tuple(found)


def _sentence(sign: str, slope: Slope) -> str:
    word = SIGNS[sign]
    if slope.p_value is None or slope.estimate is None or slope.low is None or slope.high is None:
        return f"Whether more eggs are {word} long after a cleaning cannot be told: {slope.why}"
    ends = f"{_points(slope.low)} to {_points(slope.high)}"
    change = f"{_points(slope.estimate)} points in {STEP} days ({ends})"
    if slope.p_value >= LEVEL:
        return f"No sure link of eggs {word} with the days since cleaning: {change}."
    if slope.estimate < 0:
        return f"Eggs {word} are no more, rather fewer, long after a cleaning: {change}. {NOT_PROOF}"
    return f"More eggs are {word} the longer the last cleaning is past: {change}. {NOT_PROOF}"


def _points(a_day: float) -> str:
    return f"{a_day * STEP * 100:+.1f}".replace("-", "−").replace("+0.0", "0.0").replace("−0.0", "0.0")


def _not_known(batches: int, known: int, *, has_rows: bool) -> Iterator[str]:
    if has_rows and known < batches:
        yield (
            f"Of {counted(batches - known, 'batch', 'batches')} of {batches:,} no cleaning before setting is "
            f"written down: left out. {HOW_TO}"
        )
    if has_rows:
        yield "The machine meant is the setter; a hatcher cleaned apart is not looked at."


def band_words(band: Band) -> str:
    """`3 to 20 days: 0.4 % (0.1–0.9 %)`."""
    share = band.share
    return (
        f"{band.first:.0f} to {band.last:.0f} days: {percent(share.rate)} % "
        f"({percent(share.low)}–{percent(share.high)} %)"
    )
