"""At the bench: what became of the eggs, tapped with wet hands, and what else is written down there."""

from __future__ import annotations

from dashboard import data, data_bench
from dashboard.components import bench, frame


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    bench.large()
    batches = data_bench.batches(which)
    if not batches:
        bench.begin(which, batches)
        return
    if bench.after_closing(which, batches):
        return
    batch, tray = bench.asked(batches)
    if batch is None:
        bench.choose_batch(which, batches)
    elif tray is None:
        bench.choose_tray(which, batch)
    else:
        bench.one_tray(which, batch, tray)
