"""Made-up farms and counts for the tests of the measures."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from analytics.measures.counts import LadderCounts, Stages
from analytics.values import Used

FARMS = Path(__file__).parents[1] / "simulation" / "interval_farms.py"


@pytest.fixture(scope="session")
def farms() -> ModuleType:
    """The module that makes up farms for the simulation of the intervals."""
    spec = importlib.util.spec_from_file_location("interval_farms", FARMS)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["interval_farms"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def one_tray() -> Callable[..., LadderCounts]:
    """Counts of a single tray; unknown eggs are shared like the opened ones."""
    return tray


def tray(hatched: int, opened: Stages, unknown: int = 0, cracked: int = 0, culled: int = 0) -> LadderCounts:
    """Counts of a single tray, see `one_tray`."""
    told = opened.total()
    shared = [unknown * eggs / told for eggs in opened.as_tuple()] if told else [0.0] * 7
    followed = hatched + culled + int(told) + unknown
    return LadderCounts(
        used=Used(1, 1, 0),
        eggs_set=followed + cracked,
        cracked=cracked,
        hatched=hatched,
        culled=culled,
        opened=opened,
        unknown=unknown,
        shared=Stages(*shared),
        unshared=0.0 if told else float(unknown),
        opened_squares=told * (1 + unknown / told) ** 2 if told else 0.0,
        tray_squares=followed**2,
        batch_squares=followed**2,
    )
