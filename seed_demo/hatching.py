"""When the chicks came out: counts through the hatch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta
from statistics import NormalDist

import numpy as np

from seed_demo.draws import how_many, normal
from seed_demo.outcomes import Fate, planted
from seed_demo.plan import Batch
from seed_demo.records import Row
from seed_demo.world import CHUKAR, QUAIL, World

USUAL_HOURS = {QUAIL: (408.0, 7.0), CHUKAR: (555.0, 8.0)}
"""Mean and standard deviation of the hours from setting to hatch. Quail: chicks out from 405 to 441 h
(S. Afr. J. Anim. Sci. 35:135-142, 2005, seen in abstract) and line means of 391 and 406 h (Hyankova &
Starosta 2012, seen in abstract); chukar 22 to 24 days (trade lists)."""
COUNTED_AT = (7, 13, 20)  # hours of the day


def hatch_count_rows(world: World, fates: Sequence[Fate], rng: np.random.Generator) -> Iterator[Row]:
    """Chicks out so far, batch by batch, from a day and a half before the usual hour until the pull."""
    batch = fates[0].tray.batch
    mean, sd = USUAL_HOURS[batch.species]
    mean += world.machine(batch.setter).later_hours + normal(rng, 2.0)
    chicks = [(fate.hatched + fate.culled, mean + planted(world, fate.tray, "timing")) for fate in fates]
    times = list(_times(batch, mean))
    out = np.zeros(len(times), dtype=int)
    for hatched, tray_mean in chicks:
        out += _out_by(times, batch, hatched, NormalDist(tray_mean, sd), rng)
    for moment, so_far in zip(times, out, strict=True):
        yield {"batch": batch.name, "tray": None, "counted_at": moment, "out_so_far": int(so_far)}


def _times(batch: Batch, mean: float) -> Iterator[datetime]:
    day = (batch.set_on + timedelta(hours=mean - 36)).date()
    end = batch.end
    while day <= end.date():
        for hour in COUNTED_AT:
            moment = datetime.combine(day, time(hour))
            if moment < end:
                yield moment
        day += timedelta(days=1)
    yield end


def _out_by(
    times: Sequence[datetime], batch: Batch, hatched: int, hours: NormalDist, rng: np.random.Generator
) -> np.ndarray:
    """Chicks of a tray out by each time; all of them by the last."""
    whole = hours.cdf((times[-1] - batch.set_on) / timedelta(hours=1))
    out, left, before = [], hatched, 0.0
    for moment in times[:-1]:
        by_now = hours.cdf((moment - batch.set_on) / timedelta(hours=1)) / whole
        left -= how_many(rng, left, (by_now - before) / (1 - before) if before < 1 else 1.0)
        before = by_now
        out.append(hatched - left)
    return np.array([*out, hatched])
