"""The trays of one species that signs are read from, and the facts of one sign at one place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analytics.incubation.signs_alike import alike
from analytics.incubation.signs_causes import HATCHER_SIGNS
from analytics.incubation.signs_conditions import NO_RANGE, Range, condition, paired
from analytics.incubation.signs_records import Comparisons, Condition, Facts, LedgerSays, Placed, Share
from analytics.incubation.signs_shares import FEWEST_SEEN, share_of, stands_above
from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering

Floats = NDArray[np.float64]
Labels = NDArray[np.str_]
Flags = NDArray[np.bool_]

ASSUMED = estimate_clustering(None)
SAME_WEEKS = 7.0
"""Batches set within so many days of one another were in machines in the same weeks (our own choice)."""
FED = 0.5
"""A tray is on a feed where more than this share of its laying days was."""
MARKS = {"dead_days_1_3": 0.03}
"""Sign -> published share above which to look further (UC ANR 8127: more than 3 % dead in three days)."""
TRAY_WORDS = ("storage_days", "storage_c", "hen_weeks", "egg_g", "water_loss")


@dataclass(frozen=True, slots=True)
class Farm:
    """Closed trays of one species, one entry a tray in every array.

    Attributes:
        pen: label.
        batch: label.
        setter: label.
        hatcher: label.
        set_day: day of setting, as a number of days.
        numbers: word of `TRAY_WORDS` -> value, NaN where not recorded.
        signs: word -> eggs that show it and eggs looked at, NaN where not recorded.
        feeds: name of what a feed has beyond the usual one -> share of the laying days on it.
        notes: word -> batch -> value, of the machine sheets and the hours of the hatch.
        shells: pen -> day of the sample -> mean thickness, mm.
        ranges: machine -> word -> what is published.
        alike: sign -> how alike eggs of a tray and of a batch are, from `with_likeness`; assumed where
            there is none.
    """

    pen: Labels
    batch: Labels
    setter: Labels
    hatcher: Labels
    set_day: Floats
    numbers: Mapping[str, Floats]
    signs: Mapping[str, tuple[Floats, Floats]]
    feeds: Mapping[str, Floats]
    notes: Mapping[str, Mapping[str, float]]
    shells: Mapping[str, Mapping[str, float]]
    ranges: Mapping[str, Mapping[str, Range]]
    alike: Mapping[str, Clustering]

    def machine(self, sign: str) -> Labels:
        """The machine that a sign belongs to: the hatcher for the last days, else the setter."""
        return self.hatcher if sign in HATCHER_SIGNS else self.setter

    def labels(self, placed: Placed, sign: str) -> Labels:
        """The label by which trays belong to places."""
        return {Placed.PEN: self.pen, Placed.BATCH: self.batch}.get(placed, self.machine(sign))

    def kept(self, which: Flags, since: str = "") -> Farm:
        """Some of the trays, with the shell samples from a day on."""
        arrays = ("pen", "batch", "setter", "hatcher", "set_day")
        return replace(
            self,
            **{name: getattr(self, name)[which] for name in arrays},
            numbers={word: values[which] for word, values in self.numbers.items()},
            signs={word: (seen[which], eggs[which]) for word, (seen, eggs) in self.signs.items()},
            feeds={name: share[which] for name, share in self.feeds.items()},
            shells={
                pen: {day: mm for day, mm in days.items() if day >= since}
                for pen, days in self.shells.items()
            },
        )

    def raised(self, sign: str) -> set[str]:
        """Batches with enough eggs that show a sign and a larger share than all: no other can stand out."""
        seen, eggs = self.signs[sign]
        known = np.isfinite(eggs)
        names, code = np.unique(self.batch[known], return_inverse=True)
        shown, looked = np.bincount(code, seen[known]), np.bincount(code, eggs[known])
        mean = shown.sum() / max(looked.sum(), 1.0)
        return set(names[(shown >= FEWEST_SEEN) & (shown > mean * looked)].tolist())

    def share(self, sign: str, which: Flags) -> Share | None:
        """The share of some trays' eggs that show a sign."""
        seen, eggs = self.signs[sign]
        return share_of(seen[which], eggs[which], self.batch[which], self.alike.get(sign, ASSUMED))


def with_likeness(farm: Farm) -> Farm:
    """The farm with the likeness of eggs in each sign, from all its trays."""
    everywhere = np.ones(len(farm.pen), bool)
    return replace(farm, alike={sign: _likeness(farm, sign, everywhere) for sign in farm.signs})


def beside_others(farm: Farm, sign: str, batch: str) -> Farm:
    """The farm with the likeness that the other batches show: a batch that is apart must not hide itself."""
    return replace(farm, alike={**farm.alike, sign: _likeness(farm, sign, farm.batch != batch)})


def _likeness(farm: Farm, sign: str, which: Flags) -> Clustering:
    seen, eggs = farm.signs[sign]
    group = np.char.add(np.char.add(farm.pen[which], "|"), farm.machine(sign)[which])
    return alike(seen[which], eggs[which], group, farm.batch[which])


def usual_of(farm: Farm, sign: str, placed: Placed, level: str) -> Share | None:
    """What a place is held against: the other pens of its batches, else all other machines or batches."""
    here = farm.labels(placed, sign) == level
    others = ~here
    if placed is Placed.PEN:
        others &= np.isin(farm.batch, np.unique(farm.batch[here & _looked(farm, sign)]))
    return farm.share(sign, others)


def rests_on_one_batch(farm: Farm, sign: str, placed: Placed, level: str) -> bool:
    """Whether a machine or pen no longer stands above the others once its worst batch is left out."""
    here = farm.labels(placed, sign) == level
    worst = _worst(farm, sign, here, farm.batch)
    rest = farm.share(sign, here & (farm.batch != worst)) if worst else None
    usual = usual_of(farm, sign, placed, level)
    if rest is None or rest.seen < FEWEST_SEEN:
        return True
    return usual is not None and not stands_above(rest, usual)


def facts_of(
    farm: Farm, sign: str, placed: Placed, level: str, places: int, ledger: Sequence[LedgerSays] = ()
) -> Facts | None:
    """All that the records tell of a sign at a place; None where no egg was looked at."""
    here = farm.labels(placed, sign) == level
    own = farm.share(sign, here)
    if own is None:
        return None
    return Facts(
        sign=sign,
        placed=placed,
        level=level,
        own=own,
        comparisons=_comparisons(farm, sign, placed, level, here),
        conditions=conditions_of(farm, placed, level, here),
        ledger=tuple(ledger),
        places=places,
        mark=MARKS.get(sign),
        is_apart=is_apart(farm, sign, placed, here),
    )


def is_apart(farm: Farm, sign: str, placed: Placed, here: Flags) -> bool:
    """Whether a machine's pens also met others, a batch's pens other batches, a pen's machines other pens."""
    pen, machine = farm.pen, farm.machine(sign)
    if placed is Placed.PEN:
        return bool((np.isin(machine, np.unique(machine[here])) & ~here).any())
    others = ~here if placed is Placed.BATCH else ~np.isin(machine, np.unique(machine[here]))
    return bool((np.isin(pen, np.unique(pen[here])) & others).any())


def _looked(farm: Farm, sign: str) -> Flags:
    return np.isfinite(farm.signs[sign][1])


def _comparisons(farm: Farm, sign: str, placed: Placed, level: str, here: Flags) -> Comparisons:
    within = farm.machine(sign) if placed is Placed.PEN else farm.pen
    worst = _worst(farm, sign, here, within)
    own_pens = np.isin(farm.pen, np.unique(farm.pen[here]))
    is_pen = placed is Placed.PEN
    fed, feed = _fed(farm, sign, here) if is_pen else (None, "")
    return Comparisons(
        usual=usual_of(farm, sign, placed, level),
        rest=farm.share(sign, here & (within != worst)) if worst else None,
        worst=worst,
        elsewhere=None if is_pen else farm.share(sign, ~here & own_pens),
        other_machines=None if is_pen else farm.share(sign, _same_weeks(farm, sign, here)),
        stored=_stored(farm, sign, own_pens),
        fed=fed,
        feed=feed,
    )


def _worst(farm: Farm, sign: str, here: Flags, within: Labels) -> str:
    """The pen of a place (or machine of a pen) with most eggs that show the sign beyond the place's mean."""
    seen, eggs = farm.signs[sign]
    known = here & np.isfinite(eggs)
    names = np.unique(within[known])
    if len(names) < 2:
        return ""
    mean = seen[known].sum() / eggs[known].sum()
    beyond = [float((seen - mean * eggs)[known & (within == name)].sum()) for name in names]
    return str(names[int(np.argmax(beyond))])


def _same_weeks(farm: Farm, sign: str, here: Flags) -> Flags:
    """Trays of other machines that were set in the same weeks as the place's."""
    machine = farm.machine(sign)
    days = np.unique(farm.set_day[here])
    near = np.abs(farm.set_day[:, None] - days[None, :]).min(axis=1) <= SAME_WEEKS
    others: Flags = near & ~np.isin(machine, np.unique(machine[here]))
    return others


def _stored(farm: Farm, sign: str, pens: Flags) -> tuple[Share, Share] | None:
    """Trays stored longer than the middle of their own pen's, and the others of the same pens."""
    days = farm.numbers["storage_days"]
    known = pens & np.isfinite(days) & _looked(farm, sign)
    longer = np.zeros(len(days), bool)
    for pen in np.unique(farm.pen[known]):
        own = known & (farm.pen == pen)
        longer |= own & (days > np.median(days[own]))
    first, second = farm.share(sign, longer), farm.share(sign, known & ~longer)
    return (first, second) if first and second else None


def _fed(farm: Farm, sign: str, here: Flags) -> tuple[tuple[Share, Share] | None, str]:
    """A pen's trays on another feed, and those on the usual one, for the feed with most eggs."""
    for name in sorted(farm.feeds, key=lambda one: -float(farm.feeds[one][here].sum())):
        on = here & (farm.feeds[name] > FED)
        first, second = farm.share(sign, on), farm.share(sign, here & ~on)
        if first and second:
            return (first, second), name
    return None, ""


def conditions_of(farm: Farm, placed: Placed, level: str, here: Flags) -> dict[str, Condition]:
    """What is known of a place beside its eggs; only what is recorded."""
    found = _of_pen(farm, level, here) if placed is Placed.PEN else _of_batches(farm, here)
    return {word: one for word, one in found if one is not None}


def _of_pen(farm: Farm, pen: str, here: Flags) -> Iterator[tuple[str, Condition | None]]:
    """A pen beside the other pens of the same batches; its shells beside theirs of the same day."""
    for word in TRAY_WORDS:
        values = farm.numbers[word]
        yield (
            word,
            paired(
                batch_means(farm, values, here), batch_means(farm, values, ~here), _range(farm, here, word)
            ),
        )
    days = farm.shells.get(pen, {})
    yield "shell_mm", paired(days, day_means(farm.shells, pen)) if days else None


def day_means(samples: Mapping[str, Mapping[str, float]], pen: str) -> dict[str, float]:
    """Day -> mean of the samples that other pens have of that day."""
    found: dict[str, list[float]] = {}
    for name, by_day in samples.items():
        for day, value in by_day.items() if name != pen else ():
            found.setdefault(day, []).append(value)
    return {day: float(np.mean(values)) for day, values in found.items()}


def _of_batches(farm: Farm, here: Flags) -> Iterator[tuple[str, Condition | None]]:
    """A machine's or batch's batches beside the others."""
    own, others = (np.unique(farm.batch[which]) for which in (here, ~here))
    for word in TRAY_WORDS:
        values = farm.numbers[word]
        first, second = batch_means(farm, values, here), batch_means(farm, values, ~here)
        yield word, condition(list(first.values()), list(second.values()), _range(farm, here, word))
    for word, by_batch in farm.notes.items():
        first_values, second_values = (
            [by_batch[name] for name in names.tolist() if name in by_batch] for names in (own, others)
        )
        yield word, condition(first_values, second_values, _range(farm, here, word))


def batch_means(farm: Farm, values: Floats, which: Flags) -> dict[str, float]:
    """Batch -> mean over some of its trays."""
    known = which & np.isfinite(values)
    names, code = np.unique(farm.batch[known], return_inverse=True)
    sums, trays = np.bincount(code, values[known]), np.bincount(code)
    return {str(name): float(total / many) for name, total, many in zip(names, sums, trays, strict=True)}


def _range(farm: Farm, here: Flags, word: str) -> Range:
    """What is published for the machines of a place; nothing where they differ."""
    machines = farm.hatcher if word.startswith("hatcher") else farm.setter
    found = {farm.ranges.get(str(name), {}).get(word, NO_RANGE) for name in np.unique(machines[here])}
    return found.pop() if len(found) == 1 else NO_RANGE
