"""Plans in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from analytics.planning.sample_size import SmallestSeen
from analytics.studies.pen_words import measure_words
from analytics.studies.plan_records import AtHand, SizeAnswer, SizeAsked, SizeWords
from analytics.studies.wording import CLUSTERING_ASSUMED, counted, listed, percent, whole


def size_words(answer: SizeAnswer) -> SizeWords:
    """What a difference takes, and what that rests on."""
    return SizeWords(_sentence(answer), tuple(_notes(answer)))


def _sentence(answer: SizeAnswer) -> str:
    asked, ground, found = answer.asked, answer.ground, answer.needed
    seen = (
        f"{_rate_name(asked.measure, ground.base)} at {percent(ground.other)} % instead of "
        f"{percent(ground.rate)} %"
    )
    if found.needed.batches is None or found.eggs_set is None or found.needed.trays is None:
        return f"No plan shows {seen}: {found.needed.why[:1].lower()}{found.needed.why[1:]}"
    return (
        f"To see {seen} in {chance_words(asked.power)}, set {whole(found.eggs_set)} eggs of each pen: "
        f"{counted(found.needed.trays, 'tray')} of {ground.tray_eggs} each, {_where(answer)}."
    )


def _where(answer: SizeAnswer) -> str:
    batches, trays = answer.needed.needed.batches or 0, answer.asked.trays
    each = "one tray" if trays == 1 else f"{trays} trays"
    if answer.asked.shared:
        return f"{each} of each pen side by side in each of {counted(batches, 'batch', 'batches')}"
    return f"{each} in each of {counted(batches, 'batch', 'batches')}, each pen in batches of its own"


def chance_words(power: float) -> str:
    """`8 of 10 cases`; `95 of 100 cases` where tens do not say it."""
    tenths = power * 10
    if abs(tenths - round(tenths)) < 1e-9:
        return f"{round(tenths)} of 10 cases"
    return f"{percent(power)} of 100 cases"


def _notes(answer: SizeAnswer) -> Iterator[str]:
    asked, ground, needed = answer.asked, answer.ground, answer.needed.needed
    yield f"{percent(ground.rate)} % {ground.base} is {ground.rate_from}."
    alike = ground.clustering
    if answer.needed.independent_set is not None:
        known = "" if alike.assumed else " in these records"
        yield (
            f"If every egg stood alone, {whole(answer.needed.independent_set)} eggs of each pen would do. "
            f"Eggs of a tray fail together (correlation {alike.rho_tray:.2f}{known}), "
            f"and eggs of a batch ({alike.rho_batch:.2f})."
        )
    if needed.batches is not None:
        yield _if_alike(needed.batches, needed.batches_if_alike)
    if ground.clustering.assumed:
        yield CLUSTERING_ASSUMED
    if asked.shared:
        yield "Side by side in one batch counts: what a batch or its machine does to both then cancels out."
    else:
        yield "Eggs of both pens side by side in the same batches would need fewer."
    if answer.smallest and asked.batches:
        what = f"{counted(asked.batches, 'batch', 'batches')} like this"
        yield _smallest(asked, answer.smallest, what, ground.rate)


def _rate_name(measure: str, base: str) -> str:
    name = measure_words(measure)
    return name if name.endswith(base) else f"{name} ({base})"


def _if_alike(batches: int, more: int | None) -> str:
    if more is None:
        return "If eggs are more alike than the records say, no number of batches may do."
    if more == batches:
        return "That holds too if eggs are somewhat more alike than the records say."
    return f"If eggs are somewhat more alike than the records say, it takes {more} batches."


def _smallest(asked: SizeAsked, seen: SmallestSeen, what: str, rate: float) -> str:
    if seen.why:
        return seen.why
    ways = [
        f"{percent(gap)} points {side}"
        for gap, side in ((seen.below, "lower"), (seen.above, "higher"))
        if gap is not None
    ]
    if not ways:
        return f"{what} would show no difference in {chance_words(asked.power)}, however large."
    than = f"{' or '.join(ways)} than {percent(rate)} %"
    return f"{what} would show a rate {than} in {chance_words(asked.power)}; less than that can pass unseen."


def at_hand_words(asked: SizeAsked, found: AtHand) -> str:
    """What the eggs of two pens could have shown."""
    each = [
        f"{whole(eggs)} eggs of {pen} in {counted(trays, 'tray')}"
        for pen, eggs, trays in zip(found.pens, found.eggs, found.trays, strict=True)
    ]
    common = counted(found.shared_batches, "batch", "batches") if found.shared_batches else "no batch"
    what = f"The {listed(each)}, with {common} in common,"
    return _smallest(asked, found.seen, what, found.rate)
