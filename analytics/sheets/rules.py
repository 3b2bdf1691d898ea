"""What must hold within a row, as data: SQL conditions under which a row breaks a rule.

Rules between rows are in `cross_rules`, those of single cells in `cells`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from analytics.sheets.contract import OUTCOMES, Kind, Sheet
from analytics.sheets.keys import quoted


@dataclass(frozen=True, slots=True)
class RowRule:
    """A rule within one row.

    Attributes:
        sheet: the sheet.
        columns: columns it is about; those that hold something are named and shown.
        broken: SQL condition over the alias `r` under which a row breaks it.
        rule: the rule.
        repair: how to mend it.
        warning: whether it is only a warning.
        summed: columns whose sum is told beside what stands there.
    """

    sheet: str
    columns: tuple[str, ...]
    broken: str
    rule: str
    repair: str
    warning: bool = False
    summed: tuple[str, ...] = ()

    def together(self) -> str:
        """SQL of the sum to tell, as a further part of a list; empty when there is none."""
        return f", ': ', {total(self.summed, 'r')}, ' together'" if self.summed else ""


def earlier(one: str, other: str) -> str:
    """SQL: one moment is before another; where an hour is not written down, only the days count."""
    first, second = f"CAST({one} AS TIMESTAMP)", f"CAST({other} AS TIMESTAMP)"
    days = f"CAST({one} AS DATE) < CAST({other} AS DATE)"
    hours = f"CAST({first} AS TIME) > TIME '00:00' AND CAST({second} AS TIME) > TIME '00:00'"
    return f"({days} OR ({first} < {second} AND {hours}))"


def total(columns: tuple[str, ...], alias: str) -> str:
    """SQL of the sum of columns, those not recorded left out."""
    return " + ".join(f"coalesce({alias}.{quoted(column)}, 0)" for column in columns)


IN_STORE = " (in the store)"
"""Said after a value that does not stand in the file loaded."""
LOOK_AT_BOTH = "Look which of the two is right"
_GRAMS = "Both are in g, and the weight includes the tray"
_DEATHS = ("clear", "dead", "cracked")


def _at_most(sheet: str, part: str, whole: str) -> RowRule:
    rule = f"{part} is at most {whole}"
    return RowRule(sheet, (part, whole), f"r.{part} > r.{whole}", rule, LOOK_AT_BOTH)


def _period(sheet: str) -> RowRule:
    return RowRule(
        sheet,
        ("from", "to"),
        'r."to" < r."from"',
        "A period ends on or after its first day",
        "Swap the days, or leave to blank while it lasts",
    )


def _weight(column: str) -> RowRule:
    rule = "A tray with eggs weighs more than the empty tray"
    return RowRule("trays", ("tare_g", column), f"r.{column} < r.tare_g", rule, _GRAMS)


ROW_RULES: tuple[RowRule, ...] = (
    _period("pens"),
    RowRule("pens", ("hens_hatched_on", "from"), 'r.hens_hatched_on > r."from"',
            "Hens hatch before their pen begins", LOOK_AT_BOTH, warning=True),
    RowRule("batches", ("set_on", "transfer_on"), earlier("r.transfer_on", "r.set_on"),
            "The transfer is not before the setting", LOOK_AT_BOTH),
    RowRule("batches", ("transfer_on", "pulled_on"), earlier("r.pulled_on", "r.transfer_on"),
            "The hatch is not pulled before the transfer", LOOK_AT_BOTH),
    RowRule("batches", ("set_on", "pulled_on"),
            f"r.transfer_on IS NULL AND {earlier('r.pulled_on', 'r.set_on')}",
            "The hatch is not pulled before the setting", LOOK_AT_BOTH),
    _period("pen_birds"),
    RowRule("trays", (*OUTCOMES, "eggs_set"), f"{total(OUTCOMES, 'r')} > r.eggs_set",
            "The outcomes of a tray add up to at most its eggs_set",
            "Look for an egg counted twice, or mend eggs_set", summed=OUTCOMES),
    RowRule("trays", ("laid_from", "laid_to"), "r.laid_to < r.laid_from",
            "laid_to is on or after laid_from", "Swap the days"),
    _at_most("trays", "removed_at_candling", "eggs_set"),
    _at_most("trays", "weighed_set", "eggs_set"),
    _at_most("trays", "weighed_transfer", "eggs_set"),
    _weight("weight_set_g"),
    _weight("weight_transfer_g"),
    RowRule("trays", ("weight_set_g", "weight_transfer_g"),
            "r.weight_transfer_g > r.weight_set_g AND coalesce(r.weighed_set = r.weighed_transfer, TRUE)",
            "Eggs lose weight while they are incubated", "Look at the weights and the scale", warning=True),
    _period("diets"),
    RowRule("changes", ("scope", "target"), "r.scope IN ('pen', 'incubator') AND r.target IS NULL",
            "A change of a pen or an incubator names which",
            "Fill in target, or its effect cannot be judged", warning=True),
    RowRule("candlings", (*_DEATHS, "eggs"), f"{total(_DEATHS, 'r')} > r.eggs",
            "clear, dead and cracked add up to at most the eggs looked at", LOOK_AT_BOTH, summed=_DEATHS),
    _at_most("candlings", "removed", "eggs"),
    _at_most("fresh_eggs", "fertile", "eggs"),
    _at_most("lay", "set_aside", "eggs"),
)  # fmt: skip
"""Every rule within a row."""

PLANNED_WITHIN = timedelta(weeks=6)
"""How far ahead a row may be written down; our own choice, no source."""
_MAY_LIE_AHEAD = ("from", "to", "changed_on")
"""Days of periods and plans."""


def future_rules(sheet: Sheet, today: date) -> list[RowRule]:
    """The rules that no day of a sheet lies far ahead, of rows that are not in the store already."""
    limit = today + PLANNED_WITHIN
    return [
        RowRule(
            sheet.name,
            (column.name,),
            f"r.fate <> 'same' AND CAST(r.{quoted(column.name)} AS DATE) > DATE '{limit}'",
            "What is written down has happened, or is planned within six weeks",
            f"Look at the year; by this computer's clock today is {today}",
        )
        for column in sheet.columns
        if column.kind in (Kind.DAY, Kind.MOMENT) and column.name not in _MAY_LIE_AHEAD
    ]
