"""The next set on paper and as record sheets: trays by machine, a card to print, rows to bring in later."""

from __future__ import annotations

import html
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from string import Template

from analytics.planning.split import Lot, Way
from analytics.sheets.contract import BY_NAME
from analytics.studies.plan_records import DatesAnswer, SplitAnswer
from analytics.studies.wording import counted, long_day
from dashboard import words_plan
from dashboard.look import DAY

_CARD = Template("""\
<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>$title</title>
<style>
body { margin: 1.5rem auto; max-width: 46rem; padding: 0 1rem; background: #fff; color: $ink;
  line-height: 1.4; font-family: "Source Sans 3", "Source Sans Pro", system-ui, sans-serif; }
h1, h2 { font-family: "Source Serif 4", Georgia, serif; font-weight: 600; margin: 0 0 0.3rem; }
h2 { margin-top: 1.6rem; border-top: 2px solid $ink; padding-top: 0.6rem; }
p { margin: 0.2rem 0; } .faded { color: $faded; }
table { border-collapse: collapse; width: 100%; margin: 0.6rem 0; }
th, td { border: 1px solid $line; padding: 0.35rem 0.5rem; text-align: left; vertical-align: top; }
td.number { text-align: right; } td.free { min-width: 3.4rem; }
@media (max-width: 520px) { th, td { padding: 0.25rem; font-size: 0.86rem; } td.free { min-width: 1.4rem; } }
@media print {
  body { margin: 0; max-width: none; }
  section + section { break-before: page; }
  tr { break-inside: avoid; }
}
</style>
</head>
<body>
<h1>$title</h1>
<p>$days</p>
<p class="faded">$about</p>
$machines
</body>
</html>
""")
_FREE = ("Candled", "Taken out", "Hatched")


@dataclass(frozen=True, slots=True)
class Tray:
    """A tray of the next set.

    Attributes:
        batch: label of its batch; each machine has one, with each hatcher after it.
        machine: label.
        number: its place in the machine, from 1.
        pen: label.
        eggs: how many.
        moved_from: the pen's usual machine where it is another one, else "".
        which: which of the pen's eggs, numbered in the order laid, in words.
        hatcher: label of the machine after the transfer; "" = the same.
        stored: days that they are stored on purpose, or None.
    """

    batch: str
    machine: str
    number: int
    pen: str
    eggs: int
    moved_from: str
    which: str
    hatcher: str = ""
    stored: float | None = None

    @property
    def way(self) -> str:
        """The machine, and the hatcher after it where it is another one."""
        return f"{self.machine} → {self.hatcher}" if self.hatcher else self.machine


def trays_of(answer: SplitAnswer, set_on: date, taken: Sequence[str]) -> list[Tray]:
    """The trays of a plan.

    Args:
        answer: the plan.
        set_on: day of setting; the batches are named after it and their machine.
        taken: labels that batches have already.
    """
    lots = answer.plan.lots
    ways = list(dict.fromkeys(lot.way for lot in lots))
    batches: dict[Way, str] = {}
    for machine, hatcher in ways:
        alone = sum(way[0] == machine for way in ways) == 1
        label = f"{set_on} {machine}" if alone else f"{set_on} {machine} {hatcher}"
        batches[machine, hatcher] = _free_label(label, [*taken, *batches.values()])
    homes = {lot.pen: lot for lot in lots if not lot.moved}
    numbers = {way: iter(range(1, len(lots) + 1)) for way in ways}
    return [
        Tray(
            batch=batches[lot.way],
            machine=lot.machine,
            number=next(numbers[lot.way]),
            pen=lot.pen,
            eggs=lot.eggs,
            moved_from=_moved_from(lot, homes.get(lot.pen)),
            which=", ".join(map(str, lot.numbers)) or words_plan.ALL_OF_THEM,
            hatcher="" if lot.hatcher == lot.machine else lot.hatcher,
            stored=answer.days_of(lot),
        )
        for lot in lots
    ]


def _moved_from(lot: Lot, home: Lot | None) -> str:
    """The pen's usual machine, or hatcher where only that is another one; "" where nothing is moved."""
    if not lot.moved:
        return ""
    if home is None:
        return words_plan.ANOTHER
    return home.machine if home.machine != lot.machine else home.hatcher


def _free_label(label: str, taken: Sequence[str]) -> str:
    """The label, numbered where it is taken."""
    used = {one.strip().casefold() for one in taken}
    number, free = 1, label
    while free.casefold() in used:
        number += 1
        free = f"{label} ({number})"
    return free


def batches_sheet(trays: Sequence[Tray], set_on: date) -> list[dict[str, object]]:
    """Rows of the sheet batches, one a machine and hatcher; what is not known yet is blank."""
    batches = {tray.batch: tray for tray in trays}
    return [
        _row(
            "batches",
            {
                "batch": batch,
                "incubator": tray.machine,
                "hatcher": tray.hatcher,
                "set_on": set_on.isoformat(),
            },
        )
        for batch, tray in batches.items()
    ]


def trays_sheet(trays: Sequence[Tray], seed: int) -> list[dict[str, object]]:
    """Rows of the sheet trays; which eggs they are stands in the notes."""
    return [
        _row(
            "trays",
            {
                "batch": tray.batch,
                "tray": str(tray.number),
                "pen": tray.pen,
                "eggs_set": tray.eggs,
                "storage_days": "" if tray.stored is None else f"{tray.stored:g}",
                "notes": "; ".join(_noted(tray, seed)),
            },
        )
        for tray in trays
    ]


def _noted(tray: Tray, seed: int) -> Iterator[str]:
    if tray.moved_from:
        yield f"moved from {tray.moved_from}"
    if tray.stored is not None:
        yield "planned days of storage: write the true ones"
    if tray.which != words_plan.ALL_OF_THEM:
        yield f"eggs {tray.which} in the order laid, drawn with seed {seed}"


def _row(sheet: str, values: Mapping[str, object]) -> dict[str, object]:
    return {column.name: values.get(column.name, "") for column in BY_NAME[sheet].columns}


def card(trays: Sequence[Tray], species: str, set_on: date, seed: int, days: DatesAnswer | None) -> str:
    """A page that stands alone, to print: what goes into each machine, with room to write.

    Args:
        trays: the trays.
        species: key of the birds.
        set_on: day of setting.
        seed: of the lots.
        days: when to candle, move and expect them, or None where no source tells.
    """
    batches = dict.fromkeys(tray.batch for tray in trays)
    parts = [_machine([tray for tray in trays if tray.batch == batch]) for batch in batches]
    return _CARD.substitute(
        title=html.escape(f"{words_plan.bird_choice(species)}: trays of {long_day(set_on)}"),
        days=html.escape(_days(days)),
        about=f"Trays in this order; the lots are of seed {seed}.",
        machines="\n".join(parts),
        ink=DAY.ink,
        faded=DAY.faded,
        line=DAY.faded,
    )


def _days(days: DatesAnswer | None) -> str:
    if days is None:
        return ""
    return " ".join(
        f"{name}: {words_plan.days(stretch)}."
        for one in days.species
        for name, stretch in zip(words_plan.STEPS, (one.candle, one.transfer, one.hatch), strict=True)
    )


def _machine(trays: Sequence[Tray]) -> str:
    first = trays[0]
    eggs = counted(sum(tray.eggs for tray in trays), "egg")
    names = (words_plan.TRAY, words_plan.PEN, words_plan.EGGS, words_plan.WHICH, *_FREE)
    head = "".join(f"<th scope='col'>{name}</th>" for name in names)
    body = "".join(_line(tray) for tray in trays)
    return (
        f"<section><h2>{html.escape(first.way)}</h2>"
        f"<p>Batch {html.escape(first.batch)}, {eggs}.</p>"
        f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></section>"
    )


def _line(tray: Tray) -> str:
    pen = tray.pen + (f" (from {tray.moved_from})" if tray.moved_from else "")
    if tray.stored is not None:
        pen += f" ({words_plan.stored(tray.stored)})"
    free = "<td class='free'></td>" * len(_FREE)
    return (
        f"<tr><td>{tray.number}</td><td>{html.escape(pen)}</td><td class='number'>{tray.eggs}</td>"
        f"<td>{html.escape(tray.which)}</td>{free}</tr>"
    )
