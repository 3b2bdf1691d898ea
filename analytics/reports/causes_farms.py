"""Whose loss it is over a set of farms: the text and JSON of one store's answer, and the farms beside."""

from __future__ import annotations

from typing import Any

from analytics.reports.causes_json import causes_values
from analytics.reports.causes_text import causes_text
from analytics.reports.month_text import paragraph, table
from analytics.studies.causes_farms import FarmCauses, FarmLine
from analytics.studies.causes_findings import between
from analytics.studies.pen_words import p_words
from analytics.studies.wording import percent, whole

MOST_LINES = 40


def farms_values(found: FarmCauses) -> dict[str, Any]:
    """`penwise.causes/1` with the group farms among its groups, `farms[]`, `engine` and `trays` besides.

    Batches are not told apart in a set: their number is null.
    """
    said = causes_values(found.causes)
    for answer in (said, *said["others"]):
        for scope in ("counted", "fitted"):
            names = type(answer[scope]).__dataclass_fields__
            answer[scope] = {name: getattr(answer[scope], name) for name in names} | {"batches": None}
    return said | {"engine": found.engine, "trays": found.trays, "farms": list(found.farms)}


def farms_text(found: FarmCauses) -> str:
    """The answer, then every farm, those that lost most by themselves first."""
    order = sorted(found.farms, key=lambda one: (one.lost is None, -(one.lost or 0.0), one.farm))
    rows = [_row(one) for one in order[:MOST_LINES]]
    names = ("farm", "eggs", "chicks", "of set", "lost by the farm itself", "95 % range", "p")
    said = [causes_text(found.causes), "THE FARMS\n", table(names, rows)]
    if len(order) > MOST_LINES:
        said.append(paragraph(f"{len(order) - MOST_LINES} more farms: --json has them all."))
    said.append(paragraph(f"{found.trays:,} trays summed by {found.engine}."))
    return "\n".join(said) + "\n"


def _row(one: FarmLine) -> tuple[str, ...]:
    rate = f"{percent(one.hatched / one.eggs)} %" if one.eggs else "-"
    counts = one.farm, f"{one.eggs:,}", f"{one.hatched:,}", rate
    if one.lost is None or one.low is None or one.high is None or one.p_value is None:
        return (*counts, "not learnt from", "", "")
    return (*counts, whole(one.lost), between(one.low, one.high), p_words(one.p_value).removeprefix("p "))
