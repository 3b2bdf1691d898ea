"""A month made by hand: two species, pens with many and few eggs, a rate that is not known."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest
import streamlit as st

from analytics.options import Selection
from analytics.studies.records import (
    DataGap,
    MonthReview,
    OpenBatch,
    PenMonth,
    Rates,
    SpeciesMonth,
)
from analytics.values import Base, Interval, Month, Rate, Used

sys.path.insert(0, str(Path(__file__).parent))  # so that tests of pages share `page_reading`

MARCH = Month(2026, 3)
_BASES = {
    "fertility": Base.OF_LADDER,
    "hatch_of_set": Base.OF_SET,
    "saleable_of_set": Base.OF_SET,
    "hatch_of_fertile": Base.OF_FERTILE,
    "early_loss": Base.OF_FERTILE,
    "mid_loss": Base.OF_FERTILE,
    "late_loss": Base.OF_FERTILE,
    "shell_loss": Base.OF_FERTILE,
    "rotten": Base.OF_SET,
    "cull_rate": Base.OF_HATCHED,
}


def make_rate(
    measure: str,
    count: float,
    eggs: float,
    low: float,
    high: float,
    possible: tuple[float, float] | None = None,
    clear: int = 0,
) -> Rate:
    """A rate as a study would answer it."""
    value = count / eggs
    open_low, open_high = possible or (value, value)
    return Rate(
        measure=measure,
        base=_BASES[measure],
        count=count,
        eggs=eggs,
        eggs_set=int(eggs),
        clear=clear,
        value=value,
        interval=Interval(low, high, 0.95, "trays resampled within batches"),
        possible=Interval(open_low, open_high, 1.0, "all clear eggs infertile, or none"),
        independent=Interval(low + 0.01, high - 0.01, 0.95, "Wilson"),
        used=Used(12, 3, 1),
        why="",
    )


def range_only(measure: str, low: float, high: float) -> Rate:
    """A rate that clear eggs leave open: a range and no value."""
    return Rate(
        measure, _BASES[measure], None, None, 150, 21, None,
        Interval(low, high, 0.95, "trays resampled within batches"),
        Interval(low + 0.02, high - 0.02, 1.0, "all clear eggs infertile, or none"),
        None, Used(4, 2, 0), "21 clear eggs were not opened, so there is only a range.",
    )  # fmt: skip


def unknown_rate(measure: str, why: str) -> Rate:
    """A rate that the records do not allow."""
    return Rate(measure, _BASES[measure], None, None, 40, 0, None, None, None, None, Used(0, 0, 3), why)


def make_rates(eggs: int, share: float, half: float) -> Rates:
    """The rates of the ladder about one share; the clear eggs leave fertility open."""
    fertile = min(share + 0.1, 0.97)
    hatched, followed = round(share * eggs), eggs
    of_fertile = share / fertile
    return {
        "fertility": make_rate(
            "fertility", fertile * followed, followed, fertile - half, min(fertile + half, 1.0),
            (fertile - half / 2, min(fertile + half / 2, 1.0)), clear=6,
        ),
        "hatch_of_set": make_rate("hatch_of_set", hatched, eggs, share - half, min(share + half, 1.0)),
        "saleable_of_set": make_rate("saleable_of_set", hatched - 2, eggs, share - half, share + half / 2),
        "hatch_of_fertile": make_rate(
            "hatch_of_fertile", hatched, fertile * eggs, of_fertile - half, min(of_fertile + half, 1.0),
            (of_fertile - half / 3, min(of_fertile + half / 3, 1.0)),
        ),
        "early_loss": make_rate("early_loss", 0.04 * eggs, fertile * eggs, 0.02, 0.09),
        "mid_loss": make_rate("mid_loss", 0.01 * eggs, fertile * eggs, 0.0, 0.03),
        "late_loss": make_rate("late_loss", 0.03 * eggs, fertile * eggs, 0.015, 0.07),
        "shell_loss": make_rate("shell_loss", 0.02 * eggs, fertile * eggs, 0.01, 0.05),
        "rotten": make_rate("rotten", 1, eggs, 0.0, 0.02),
        "cull_rate": make_rate("cull_rate", 2, max(hatched, 3), 0.0, 0.03),
    }  # fmt: skip


def make_pen(label: str, eggs: int, share: float, half: float, before: float | None) -> PenMonth:
    """One pen's month."""
    return PenMonth(
        label,
        eggs,
        round(share * eggs),
        make_rates(eggs, share, half),
        make_rates(600, before, 0.04) if before is not None else {},
    )


def make_species() -> SpeciesMonth:
    """Coturnix with six pens, one with few eggs and one whose rate is not known."""
    shares = (0.78, 0.8, 0.81, 0.76, 0.74, 0.79, 0.83, 0.82, 0.71, 0.68, 0.0, 0.77)
    clear = {**make_rates(150, 0.7, 0.05), "fertility": range_only("fertility", 0.71, 0.93)}
    before = tuple(
        (MARCH.back(12 - place), make_rates(420, share, 0.05) if share else {})
        for place, share in enumerate(shares)
    )
    before = (*before[:9], (before[9][0], clear), *before[10:])
    lost = PenMonth(
        "Lower run", 40, 0, {"hatch_of_set": unknown_rate("hatch_of_set", "hatched is blank")}, {}
    )
    pens = (
        make_pen("Barn 1", 180, 0.84, 0.06, 0.82),
        make_pen("Barn 2", 172, 0.69, 0.08, 0.8),
        make_pen("Orchard", 96, 0.81, 0.09, 0.78),
        make_pen("The long run behind the old stable", 60, 0.77, 0.12, None),
        make_pen("<b>Ruby & Co</b>", 12, 0.58, 0.27, 0.75),
        lost,
    )
    rates = make_rates(520, 0.77, 0.045)
    return SpeciesMonth(
        species="coturnix_quail",
        eggs_set=560,
        chicks=401,
        batches=4,
        rates=rates,
        months_before=before,
        pens=pens,
        targets={"hatch_of_set": 0.8, "fertility": 0.9},
        before=make_rates(4100, 0.78, 0.02),
    )


def make_review() -> MonthReview:
    """The month as the study would answer it."""
    chickens = SpeciesMonth(
        "chicken",
        24,
        18,
        1,
        make_rates(24, 0.75, 0.19),
        (),
        (make_pen("Hens", 24, 0.75, 0.19, None),),
        {},
        {},
    )
    return MonthReview(
        month=MARCH,
        selection=Selection(),
        headline=(
            "Of 520 Coturnix quail eggs set in batches that hatched in March 2026, 400 hatched: "
            "77 % of set (72–82 %).",
            "The twelve months before stand at 78 % of 4,100 set (76–80 %), inside this month's range.",
        ),
        species=(make_species(), chickens),
        open_batches=(
            OpenBatch("B41", "North", ("coturnix_quail",), 120, date(2026, 3, 24), date(2026, 4, 9),
                      date(2026, 4, 12), 0),
            OpenBatch("B38", "South", ("coturnix_quail", "chicken"), 90, date(2026, 2, 20),
                      date(2026, 3, 8), date(2026, 3, 14), 17),
            OpenBatch("B40", "North", ("emu",), 3, date(2026, 3, 1), None, None, 0),
        ),
        data_gaps=(
            DataGap("Trays with unhatched eggs that nobody opened", ("B36 T1", "B36 T2", "B37 T4"), 14,
                    "Open them, and write early_dead, mid_dead, late_dead and infertile in trays"),
        ),
        months=tuple(MARCH.back(back) for back in range(14, -1, -1)),
        as_of=date(2026, 3, 31),
    )  # fmt: skip


@pytest.fixture(autouse=True)
def _nothing_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """No answer and no store of another test."""
    st.cache_data.clear()
    st.cache_resource.clear()
    monkeypatch.delenv("PENWISE_STORE", raising=False)
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)


@pytest.fixture
def species() -> SpeciesMonth:
    """One species' month."""
    return make_species()


@pytest.fixture
def march() -> MonthReview:
    """A whole month."""
    return make_review()


@pytest.fixture
def rate_of() -> Callable[..., Rate]:
    """Makes one rate."""
    return make_rate


@pytest.fixture(scope="session")
def made() -> ModuleType:
    """Whose loss it is, made by hand: the functions of the file beside this one."""
    spec = importlib.util.spec_from_file_location(
        "losses_by_hand", Path(__file__).with_name("losses_by_hand.py")
    )
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
