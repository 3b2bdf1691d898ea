"""Bad sheets that hypothesis draws: any text, number or time in any cell, and any bytes."""

from __future__ import annotations

from collections.abc import Callable

from bad_kinds import Bad
from farm_sheets import SHEET_NAMES, good
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from analytics.sheets.contract import BY_NAME

_CELLS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["B1", "T1", "Rowan", "40", "2026-03-01", "1,5", "NaN", "-0", "1e308", "'", '"', "\\", "yes"]
    ),
    st.integers().map(str),
    st.floats().map(str),
    st.datetimes().map(str),
    st.from_regex(r"[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4}", fullmatch=True),
)
_LINE_ENDS = st.sampled_from(["\n", "\r\n", "\r"])


@st.composite
def _texts(draw: st.DrawFn) -> Bad:
    sheet = draw(st.sampled_from(SHEET_NAMES))
    columns = draw(st.permutations(list(BY_NAME[sheet].by_name)))
    mark = draw(st.sampled_from([",", ";", "\t"]))
    rows = draw(st.lists(st.lists(_CELLS, max_size=len(columns)), max_size=5))
    text = draw(_LINE_ENDS).join([mark.join(columns), *(mark.join(row) for row in rows)])
    encoding = draw(st.sampled_from(["utf-8", "utf-16", "utf-8-sig"]))
    return Bad(sheet, f"{sheet}.csv", text.encode(encoding, "replace"), None, mark == ",")


@st.composite
def _one_cell(draw: st.DrawFn) -> Bad:
    from bad_kinds import csv_bytes

    sheet = draw(st.sampled_from(SHEET_NAMES))
    grid = good(sheet)
    row = draw(st.integers(1, len(grid) - 1))
    grid[row][draw(st.integers(0, len(grid[0]) - 1))] = draw(_CELLS)
    content = csv_bytes(grid)
    return Bad(sheet, f"{sheet}.csv", content, None)


@st.composite
def _bytes(draw: st.DrawFn) -> Bad:
    sheet = draw(st.sampled_from(SHEET_NAMES))
    ending = draw(st.sampled_from(["csv", "xlsx"]))
    return Bad(sheet, f"{sheet}.{ending}", draw(st.binary(max_size=300)), None)


def by_hypothesis(number: int, from_seed: int, load: Callable[[Bad], object]) -> None:
    """Draws so many sheets and hands each to `load`, which keeps what missed itself."""
    loaded = 0

    @seed(from_seed)
    @settings(
        max_examples=number,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(bad=st.one_of(_texts(), _one_cell(), _one_cell(), _bytes()))
    def draw(bad: Bad) -> None:
        nonlocal loaded
        if loaded < number:
            loaded += 1
            load(bad)

    draw()
