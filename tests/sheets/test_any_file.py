"""Whatever stands in a file, a load keeps it or says in our words why not; what it keeps stood there."""

from __future__ import annotations

import contextlib

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analytics.errors import PenwiseError
from analytics.sheets.contract import BY_NAME, OUTCOMES

FEW = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    derandomize=True,
)
CELLS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["B1", "T1", "Rowan", "40", "2026-03-01", "1,5", "NaN", "-0", "1e308", "'", '"', "\\", "yes", "°"]
    ),
    st.integers().map(str),
    st.floats().map(str),
    st.datetimes().map(str),
)


@st.composite
def files(draw: st.DrawFn) -> bytes:
    tray = BY_NAME["trays"]
    needed = [column.name for column in tray.columns if column.required]
    others = draw(st.lists(st.sampled_from(sorted(set(tray.by_name) - set(needed))), unique=True, max_size=8))
    columns = draw(st.permutations([*needed, *others]))
    mark = draw(st.sampled_from([",", ";", "\t"]))
    rows = draw(st.lists(st.lists(CELLS, max_size=len(columns)), max_size=6))
    text = draw(st.sampled_from(["\n", "\r\n", "\r"])).join(
        [mark.join(columns), *(mark.join(row) for row in rows)]
    )
    return text.encode(draw(st.sampled_from(["utf-8", "utf-16", "utf-8-sig"])), "replace")


@given(content=files())
@FEW
def test_any_sheet(content: bytes, kept) -> None:  # type: ignore[no-untyped-def]
    with contextlib.suppress(PenwiseError):
        kept.load(kept.text("trays.csv", content), dry_run=True)


@given(content=st.binary(max_size=300))
@FEW
def test_any_bytes(content: bytes, kept) -> None:  # type: ignore[no-untyped-def]
    for name in ("trays.csv", "trays.xlsx"):
        with contextlib.suppress(PenwiseError):
            kept.load(kept.text(name, content), dry_run=True)


@given(counts=st.lists(st.none() | st.integers(0, 9), min_size=12, max_size=12), extra=st.integers(-3, 3))
@FEW
def test_trays_are_kept_as_counted_or_refused_for_their_sum(counts, extra, kept) -> None:  # type: ignore[no-untyped-def]
    total = sum(count or 0 for count in counts)
    eggs = max(total + extra, 1)
    cells = {name: "" if count is None else str(count) for name, count in zip(OUTCOMES, counts, strict=True)}
    path = kept.write(
        "trays", [{"batch": "B1", "tray": "T9", "pen": "Rowan", "eggs_set": str(eggs), **cells}]
    )
    if total > eggs:
        (problem,) = kept.problems(path)
        assert problem.column.split(", ")[-1] == "eggs_set"
        return
    kept.load(path, accept_corrections=True)
    found = kept.ask(f"SELECT {', '.join(OUTCOMES)}, eggs_set FROM trays WHERE tray = 'T9'")
    assert found == [(*counts, eggs)]
