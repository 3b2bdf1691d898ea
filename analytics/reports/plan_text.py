"""Plans as plain text for a terminal."""

from __future__ import annotations

from analytics.breeders.effective_size import InbreedingPace
from analytics.planning.split import Lot
from analytics.reports.month_text import paragraph, table
from analytics.studies.kinship_records import MatingsAnswer, PenKinship
from analytics.studies.plan_records import DatesAnswer, DayRange, SizeAnswer, SizeRow, SplitAnswer
from analytics.studies.wording import day_range, minus, percent, short_day, whole


def size_text(answer: SizeAnswer) -> str:
    """The answer, other differences, and what it rests on."""
    parts = [paragraph(answer.words.sentence)]
    if answer.at_hand:
        parts.append(paragraph(answer.at_hand.sentence))
    parts += [f"OF EACH PEN, in {_layout(answer)}", _table(answer)]
    parts += [paragraph(note) for note in answer.words.notes]
    return "\n\n".join(parts) + "\n"


def _layout(answer: SizeAnswer) -> str:
    side = "both pens in each batch" if answer.asked.shared else "each pen in batches of its own"
    return f"trays of {answer.ground.tray_eggs}, {side}"


def _table(answer: SizeAnswer) -> str:
    heading = ("difference, points", "batches", "trays", "eggs to set", "if each stood alone")
    return table(heading, [_row(row) for row in answer.rows])


def _row(row: SizeRow) -> tuple[str, ...]:
    needed = row.needed
    alone = "" if row.independent_set is None else whole(row.independent_set)
    if needed.batches is None or needed.trays is None or row.eggs_set is None:
        return percent(row.difference), "none would do", "", "", alone
    return percent(row.difference), whole(needed.batches), whole(needed.trays), whole(row.eggs_set), alone


def dates_text(answer: DatesAnswer) -> str:
    """The days of each bird, what does not go together, and who says so."""
    heading = ("", "candle", "to the hatcher", "hatch")
    rows = [
        (one.name, *(_days(days) for days in (one.candle, one.transfer, one.hatch))) for one in answer.species
    ]
    parts = [paragraph(answer.sentence), table(heading, rows, left=4)]
    parts += [paragraph(warning) for warning in answer.warnings]
    parts += ["WHO SAYS SO", *(paragraph(line, "  ") for line in _sources(answer))]
    return "\n\n".join(parts) + "\n"


def _days(found: DayRange) -> str:
    if found.first is None or found.last is None:
        return "not published"
    return day_range(found.first, found.last)


def _sources(answer: DatesAnswer) -> list[str]:
    lines = [
        f"{one.name}, {what}: {days.why or days.source}"
        for one in answer.species
        for what, days in (("candling", one.candle), ("transfer", one.transfer), ("hatch", one.hatch))
    ]
    return list(dict.fromkeys(lines))


def split_text(answer: SplitAnswer) -> str:
    """The answer, the lots by machine in their order, the eggs of split pens, and what stands behind it."""
    lots, hatchers = answer.plan.lots, bool(answer.hatcher_camps)
    rows = [
        (lot.machine, *([lot.hatcher] if hatchers else []), lot.pen, whole(lot.eggs), _about(answer, lot))
        for lot in lots
    ]
    heads = ("machine", *(["hatcher"] if hatchers else []), "pen", "eggs", "")
    parts = [
        paragraph(answer.sentence),
        "INTO THE MACHINES, trays in this order",
        table(heads, rows, left=3 if hatchers else 2),
    ]
    split = [lot for lot in lots if lot.numbers]
    if split:
        parts.append("WHICH EGGS, numbered in the order laid")
        parts += [paragraph(f"{_lot_name(answer, lot)}: {_numbers(lot)}", "  ") for lot in split]
    parts += [paragraph(note) for note in answer.notes]
    return "\n\n".join(parts) + "\n"


def _about(answer: SplitAnswer, lot: Lot) -> str:
    days = answer.days_of(lot)
    said = ["from elsewhere"] if lot.moved else []
    return ", ".join(said + ([f"stored {days:g} days"] if days is not None else []))


def _lot_name(answer: SplitAnswer, lot: Lot) -> str:
    days = answer.days_of(lot)
    hatcher = f" and {lot.hatcher}" if lot.hatcher and lot.hatcher != lot.machine else ""
    return f"{lot.pen} into {lot.machine}{hatcher}{f', stored {days:g} days' if days is not None else ''}"


def _numbers(lot: Lot) -> str:
    return ", ".join(map(str, lot.numbers))


def matings_text(answer: MatingsAnswer) -> str:
    """The answer, each male with his females, the pens as they stand, and what stands behind it."""
    males = sorted({mating.male for mating in answer.plan.matings})
    rows = []
    for male in males:
        own = [mating for mating in answer.plan.matings if mating.male == male]
        mean = sum(mating.inbreeding for mating in own) / len(own)
        rows.append((male, ", ".join(mating.female for mating in own), f"{percent(mean)} %"))
    parts = [
        paragraph(answer.sentence),
        "WHO WITH WHOM",
        table(("male", "females", "inbreeding of young"), rows, left=2),
        f"THE PENS AS THEY STAND on {short_day(answer.as_of)}",
        table(("pen", "males", "females", "inbreeding of young"), [_pen(one) for one in answer.pens]),
    ]
    if len(answer.pace.generations) > 1:
        parts += ["BY GENERATION, all birds written down", _generations(answer.pace)]
    return "\n\n".join([*parts, *(paragraph(note) for note in answer.notes)]) + "\n"


def _generations(pace: InbreedingPace) -> str:
    heading = ("generation", "birds", "inbreeding", "rise", "worth, birds", "fathers", "mothers", "4MF/(M+F)")
    rows = [
        (
            str(one.number),
            whole(one.birds),
            f"{percent(one.inbreeding)} %",
            "" if one.rate is None else minus(f"{100 * one.rate:.1f} %"),
            "" if one.effective_size is None else whole(one.effective_size),
            whole(one.sires) if one.number else "",
            whole(one.dams) if one.number else "",
            "" if one.expected_size is None else whole(one.expected_size),
        )
        for one in pace.generations
    ]
    return table(heading, rows)


def _pen(one: PenKinship) -> tuple[str, ...]:
    young = "not known" if one.of_young is None else f"{percent(one.of_young)} %"
    if one.of_young is not None and one.known < one.pairs:
        young += f" (of {one.known} of {one.pairs} pairs)"
    return one.pen, str(one.males), str(one.females), young
