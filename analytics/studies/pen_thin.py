"""Why pens cannot be compared, in a sentence, and what would help: read off the trays, not off the test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.studies.pen_data import PenData
from analytics.studies.pen_judging import Judged, machine_labels
from analytics.studies.wording import counted, listed
from analytics.values import label_order

_NOTHING = 1e-9
_NAMED = 6
_OUTCOME = {
    "fertility": ("was fertile", "were fertile"),
    "hatch_of_set": ("hatched", "hatched"),
    "saleable_of_set": ("hatched into a chick that was kept", "hatched into chicks that were kept"),
    "cull_rate": ("gave a chick that was not kept", "gave chicks that were not kept"),
    "hatch_of_fertile": ("hatched", "hatched"),
    "early_loss": ("died early", "died early"),
    "mid_loss": ("died in the middle", "died in the middle"),
    "late_loss": ("died late", "died late"),
    "shell_loss": ("died in the shell", "died in the shell"),
    "rotten": ("was rotten", "were rotten"),
}
"""What the eggs that are counted did: of one egg, and of many."""
_WIDEN = "Widen the days, pens or machines asked for."
_SECOND = "Set eggs of a second one in the same batches, or widen the days, pens or machines asked for."
_OPEN = "Open clear eggs and read the germinal disc, or open fresh eggs."


@dataclass(frozen=True, slots=True)
class Thin:
    """Why there is no test.

    Attributes:
        alike: whether the eggs show no difference at all, rather than too little to judge one.
        why: the reason, as sentences.
        remedy: what would help; "" where nothing need be done.
    """

    alike: bool
    why: str
    remedy: str


def thin(data: PenData, found: Judged) -> Thin:
    """The reason; only where `found.clustered` has no p-value."""
    for look in (_alone, _one_outcome, _apart, _trays_alike, _few_trays):
        said = look(data, found)
        if said:
            return said
    remedy = "A second pen of each line would allow it." if data.by == "line" else _WIDEN
    return Thin(False, found.clustered.why, remedy)


def _alone(data: PenData, found: Judged) -> Thin | None:
    """No species has two with eggs."""
    known = {(str(s), str(label)) for s, label in zip(data.cells.species, data.label, strict=True)}
    species = [key for key, _ in known]
    if len(set(species)) < len(species):
        return None
    things, labels = f"{data.by}s", sorted((label for _, label in known), key=label_order)
    rest = [group for group in data.groups if (group.species, group.label) not in known]
    blank = "".join(f" {group.label}: {group.rate.why}" for group in rest[:_NAMED] if group.rate.why)
    if len(labels) > 1:
        why = (
            f"Each species has one {data.by} only ({_some(labels)}); {things} are compared within a species."
        )
        return Thin(False, f"{why}{blank}", _WIDEN)
    why = f"Only {labels[0]} has eggs here, and a comparison needs two {things}.{blank}"
    missing = any(group.rate.used.left_out for group in rest)
    return Thin(False, why, "Write those counts into the sheet trays." if missing else _SECOND)


def _one_outcome(data: PenData, found: Judged) -> Thin | None:
    """All eggs passed, or none, at one end at least of what clear eggs leave open."""
    ends = [(float(passed.sum()), float(eggs.sum())) for passed, eggs in data.ends()]
    all_same = [came <= _NOTHING or eggs - came <= _NOTHING for came, eggs in ends]
    if not any(all_same):
        return None
    clear = float(data.cells.clear.sum())
    if len(ends) > 1 and clear > 0.5:
        named = counted(round(clear), "clear egg")
        taken = "infertile" if all_same[0] else "dead early"
        why = f"It hangs on {named} that nobody told apart: taken as {taken}, all eggs have the same outcome."
        if all(all_same):
            why = f"Nothing but {named} that nobody told apart: infertile or dead early, they are all alike."
        return Thin(False, why, _OPEN)
    came, eggs = ends[0]
    whole, (one, many) = round(eggs), _OUTCOME[data.measure]
    told = f"Not one of the {whole:,} eggs {one}" if came <= _NOTHING else f"All {whole:,} eggs {many}"
    return Thin(True, f"{told}, so no difference can show.", "")


def _apart(data: PenData, found: Judged) -> Thin | None:
    """The machine sets all of them apart."""
    groups = found.models[0].groups
    if not groups or any(len(group) > 1 for group in groups):
        return None
    machine = machine_labels(data.cells, data.measure)
    where = {
        label: sorted(
            {name for both in machine[data.label == label].tolist() for name in both.split("|")},
            key=label_order,
        )
        for label in sorted(set(data.label.tolist()), key=label_order)
    }
    told = "; ".join(f"{label} was in {listed(names)}" for label, names in list(where.items())[:_NAMED])
    shared = len({tuple(names) for names in where.values()}) < len(where)
    first = (
        f"Machine, storage and {data.by} cannot be told apart"
        if shared
        else f"No two {data.by}s shared a machine"
    )
    more = f"; and {len(where) - _NAMED} more" if len(where) > _NAMED else ""
    return Thin(
        False, f"{first}: {told}{more}.", "Set some eggs of each in the same machine in the next batch."
    )


def _trays_alike(data: PenData, found: Judged) -> Thin | None:
    """No tray differs from another of its pen."""
    if any(model.stands for model in found.models) or "do not differ at all" not in _reasons(found):
        return None
    rates = [passed / eggs for passed, eggs in data.ends()]
    if any(float(np.ptp(rate)) <= _NOTHING for rate in rates):
        all_trays = counted(len(rates[0]), "tray")
        return Thin(True, f"All {all_trays} came out alike.", "")
    why = (
        f"Trays of one {data.by} came out alike, and no batch held two {data.by}s that differ, "
        "so nothing shows what chance does."
    )
    return Thin(False, why, f"Set trays of two {data.by}s into the same batches.")


def _few_trays(data: PenData, found: Judged) -> Thin | None:
    if "too few trays" not in _reasons(found):
        return None
    labels, trays = np.unique(data.label, return_counts=True)
    names = f"{counted(int(trays.sum()), 'tray')} of {counted(len(labels), data.by)}"
    why = f"{names} are too few to see how much trays of one {data.by} differ by chance."
    if trays.max() == 1:
        names = _some(labels.tolist())
        why = f"Each {data.by} has one tray here ({names}), and a tray alone does not show chance."
    return Thin(False, why, f"Set more trays of each {data.by}: from the second on, chance begins to show.")


def _reasons(found: Judged) -> str:
    return " ".join([*(model.test.why for model in found.models), found.clustered.why])


def _some(labels: Sequence[str]) -> str:
    more = len(labels) - _NAMED
    return listed([*labels[:_NAMED], f"{more} more"]) if more > 0 else listed(list(labels))
