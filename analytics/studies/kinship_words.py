"""Kinship in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from analytics.breeders.depression import Depression
from analytics.reference.sources import Status, source_table
from analytics.studies.kinship_records import MatingsAnswer
from analytics.studies.wording import counted, listed, percent, species_words


def matings_sentence(answer: MatingsAnswer, males: int, females: int) -> MatingsAnswer:
    """The answer with its sentence."""
    plan = answer.plan
    birds = f"{counted(males, 'male')} and {counted(females, 'female')} of {species_words(answer.species)}"
    said = (
        f"Of {birds}, at most {counted(answer.most_females, 'female')} to a male, the young would be "
        f"{percent(plan.mean)} % inbred on average and {percent(plan.highest)} % at most."
    )
    beside = []
    if plan.rotation_mean is not None:
        beside.append(f"moving the males on by one pen gives {percent(plan.rotation_mean)} %")
    if answer.as_now is not None:
        beside.append(f"leaving them where they are {percent(answer.as_now)} %")
    if beside:
        both = ", ".join(beside)
        said += f" {both[:1].upper()}{both[1:]}."
    return replace(answer, sentence=said)


def kinship_notes(answer: MatingsAnswer) -> MatingsAnswer:
    """The answer with what stands behind it."""
    return replace(answer, notes=tuple(_notes(answer)))


def _notes(answer: MatingsAnswer) -> Iterator[str]:
    birds = len(answer.plan.idle) + len({mating.male for mating in answer.plan.matings})
    birds += len(answer.plan.matings)
    if answer.with_parents < birds:
        yield (
            f"Both parents are written down for {answer.with_parents} of these {birds} birds. The others are "
            "taken as unrelated to all, so that the truth may be higher."
        )
    if answer.plan.idle:
        yield f"Without a female: {listed(answer.plan.idle)}. Fewer males used make the flock related sooner."
    if answer.plan.why:
        yield answer.plan.why
    yield _pace_words(answer)
    yield depression_words(answer.depression)
    if answer.published:
        rows = [f"{row.trait} {row.points:+g} points".replace("-", "−") for row in answer.published]
        names = dict.fromkeys(_source(row.source_id, row.status) for row in answer.published)
        yield (
            f"Published for {species_words(answer.species)}, for every 10 % more inbreeding: {listed(rows)} "
            f"({'; '.join(names)})."
        )


def _source(name: str, status: Status) -> str:
    source = source_table()[name]
    return "from memory" if status is Status.MEMORY else f"{source.author} {source.year or ''}".rstrip()


def _pace_words(answer: MatingsAnswer) -> str:
    pace = answer.pace
    last = pace.generations[-1] if pace.generations else None
    if pace.rate is None or last is None or last.expected_size is None:
        return f"How fast the flock becomes inbred cannot be told. {pace.why}"
    size = "no inbreeding shows so far"
    if pace.effective_size is not None:
        worth = f"{pace.effective_size:.0f} birds mated at random"
        size = f"{percent(pace.rate)} % a generation, as in a flock of {worth}"
    parents = f"{counted(last.sires, 'father')} and {counted(last.dams, 'mother')}"
    generations = counted(len(pace.generations) - 1, "generation")
    worth = f"worth {last.expected_size:.0f} birds if mated at random (4MF/(M+F))"
    return (
        f"Over {generations} in the records: {size}. The last generation had {parents}, {worth}. {pace.why}"
    )


def depression_words(found: Depression) -> str:
    """Whether hatch of fertile falls with inbreeding here."""
    slope = found.per_tenth
    if slope.estimate is None:
        return (
            f"Whether hatch of fertile falls with inbreeding cannot be told here. {slope.why} {found.missing}"
        ).strip()
    low, middle, high, _ = slope.known()
    verb = "falls" if middle < 0 else "rises"
    sure = "" if low > 0 or high < 0 else ", which may be chance"
    ends = sorted((abs(low), abs(high))) if low * high > 0 else None
    span = (
        f"{percent(ends[0])} to {percent(ends[1])}"
        if ends
        else f"from {percent(-low)} less to {percent(high)} more"
    )
    kind = "within pens" if found.kind == "within_pens" else "between pens"
    return (
        f"Hatch of fertile {verb} by {percent(abs(middle))} points for every 10 % more inbreeding ({span}; "
        f"{kind}, {counted(found.trays, 'tray')}){sure}. {found.missing}"
    ).strip()
