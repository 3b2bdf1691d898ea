"""Who descends from whom, checked, in an order in which parents come before their young."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from analytics.errors import SheetProblem, WrongUsage

Places = NDArray[np.intp]
UNKNOWN = -1
"""Place of a parent that is not known."""
_SEX_OF = {"sire": "m", "dam": "f"}
_WORD_OF = {"m": "male", "f": "female"}


@dataclass(frozen=True, slots=True)
class Descent:
    """A bird as it is written down.

    Attributes:
        bird: its label; labels that differ in any letter are different birds.
        sex: `m`, `f` or "" where not known.
        sire: label of its father, "" where not known.
        dam: label of its mother, likewise.
        hatched_on: day of hatch, or None.
    """

    bird: str
    sex: str = ""
    sire: str = ""
    dam: str = ""
    hatched_on: date | None = None


@dataclass(frozen=True, slots=True)
class Pedigree:
    """Birds with their parents by place, parents before young.

    Attributes:
        birds: labels; a parent without a row of its own stands among them, its parents unknown.
        sire: place of each bird's father, `UNKNOWN` where not known, shape (birds,).
        dam: place of its mother, likewise.
        generation: 0 where both parents are unknown, else one more than that of the later parent.
        place: label -> place.
    """

    birds: tuple[str, ...]
    sire: Places
    dam: Places
    generation: Places
    place: Mapping[str, int]

    def places(self, birds: Sequence[str]) -> Places:
        """Places of some birds.

        Raises:
            WrongUsage: one of them is not in the pedigree.
        """
        strange = next((bird for bird in birds if bird not in self.place), None)
        if strange is not None:
            raise WrongUsage(
                f"The bird {strange!r}", "It is not in the pedigree", "Write it into the sheet birds"
            )
        return np.array([self.place[bird] for bird in birds], dtype=np.intp)


def pedigree(records: Sequence[Descent]) -> Pedigree:
    """Puts birds in order.

    Args:
        records: one a bird, in any order.

    Raises:
        WrongUsage: something cannot be (see `problems_of`); the first of them, and how many more.
    """
    wrong = problems_of(records)
    if wrong:
        more = f" There are {len(wrong) - 1} more like this." if len(wrong) > 1 else ""
        raise WrongUsage(wrong[0].given, wrong[0].rule, wrong[0].repair + more)
    labels = _labels(records)
    place = {bird: at for at, bird in enumerate(labels)}
    parents = _parents(records, place)
    generation, _ = _generations(parents)
    order = np.argsort(generation, kind="stable")
    to = np.append(np.argsort(order), UNKNOWN)
    sire, dam = (to[parents[role, order]].astype(np.intp) for role in (0, 1))
    birds = tuple(labels[at] for at in order)
    return Pedigree(birds, sire, dam, generation[order], {bird: at for at, bird in enumerate(birds)})


def problems_of(records: Sequence[Descent]) -> tuple[SheetProblem, ...]:
    """What cannot be: a bird twice, a parent of the wrong sex, a parent younger than its young, a loop."""
    return (*_twice(records), *_wrong_sex(records), *_too_young(records), *_loops(records))


def _labels(records: Sequence[Descent]) -> list[str]:
    """Every bird named, parents without a row last."""
    own = [record.bird for record in records]
    named = (parent for record in records for parent in (record.sire, record.dam) if parent)
    return list(dict.fromkeys((*own, *named)))


def _parents(records: Sequence[Descent], place: Mapping[str, int]) -> Places:
    """Places of fathers and mothers, shape (2, birds)."""
    found = np.full((2, len(place)), UNKNOWN, dtype=np.intp)
    for record in records:
        at = place[record.bird]
        found[:, at] = [place[parent] if parent else UNKNOWN for parent in (record.sire, record.dam)]
    return found


def _generations(parents: Places) -> tuple[Places, Places]:
    """Generation of each bird, and the places of birds that stand in a loop or descend from one."""
    birds = parents.shape[1]
    role, child = np.nonzero(parents != UNKNOWN)
    parent = parents[role, child]
    order = np.argsort(parent, kind="stable")
    young = child[order].tolist()
    starts = np.searchsorted(parent[order], np.arange(birds + 1)).tolist()
    waiting = np.bincount(child, minlength=birds).tolist()
    generation = [0] * birds
    ready = [at for at in range(birds) if not waiting[at]]
    for bird in ready:  # grows while it is walked
        for chick in young[starts[bird] : starts[bird + 1]]:
            generation[chick] = max(generation[chick], generation[bird] + 1)
            waiting[chick] -= 1
            if not waiting[chick]:
                ready.append(chick)
    left = [at for at in range(birds) if waiting[at]]
    return np.array(generation, dtype=np.intp), np.array(left, dtype=np.intp)


def _problem(column: str, given: str, rule: str, repair: str) -> SheetProblem:
    return SheetProblem("birds", 0, column, given, rule, repair)


def _twice(records: Sequence[Descent]) -> Iterator[SheetProblem]:
    seen: set[str] = set()
    for record in records:
        if record.bird in seen:
            yield _problem("bird", f"{record.bird} twice", "A bird has one row", "Take one of the two out")
        seen.add(record.bird)


def _wrong_sex(records: Sequence[Descent]) -> Iterator[SheetProblem]:
    sex = {record.bird: record.sex for record in records}
    used: dict[str, tuple[str, str]] = {}
    for record in records:
        for role, parent in (("sire", record.sire), ("dam", record.dam)):
            if not parent:
                continue
            if sex.get(parent) and sex[parent] != _SEX_OF[role]:
                yield _problem(
                    role,
                    f"{parent}, the {role} of {record.bird}, is {_WORD_OF[sex[parent]]}",
                    "A sire is male and a dam is female",
                    f"Name another bird, or mend the sex of {parent}",
                )
            elif used.setdefault(parent, (role, record.bird))[0] != role:
                first, chick = used[parent]
                yield _problem(
                    "sire, dam",
                    f"{parent} is the {first} of {chick} and the {role} of {record.bird}",
                    "One bird cannot be a sire and a dam",
                    "Look which of the two names is wrong",
                )


def _too_young(records: Sequence[Descent]) -> Iterator[SheetProblem]:
    hatched = {record.bird: record.hatched_on for record in records}
    for record in records:
        for role, parent in (("sire", record.sire), ("dam", record.dam)):
            day, own = hatched.get(parent), record.hatched_on
            if day and own and day >= own and parent != record.bird:
                yield _problem(
                    "hatched_on",
                    f"{record.bird} hatched on {own}, its {role} {parent} on {day}",
                    "A bird hatches after its parents",
                    "Mend one of the two days, or name another parent",
                )


def _loops(records: Sequence[Descent]) -> Iterator[SheetProblem]:
    labels = _labels(records)
    parents = _parents(records, {bird: at for at, bird in enumerate(labels)})
    _, left = _generations(parents)
    inside, walked = set(left.tolist()), set[int]()
    for start in left.tolist():
        path, bird = dict[int, int](), start
        while bird not in walked:  # every bird left has a parent that is left too
            walked.add(bird)
            path[bird] = len(path)
            bird = next(parent for parent in parents[:, bird].tolist() if parent in inside)
        if bird in path:
            round_trip = [labels[at] for at in path if path[at] >= path[bird]]
            yield _problem(
                "sire, dam",
                ", whose parent is ".join([*round_trip, labels[bird]]),
                "No bird descends from itself",
                "Look which of these parents is wrong",
            )
