"""Worlds of other seeds: how a verdict is reached, and a few of them run."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).with_name("demo_worlds.py")


@pytest.fixture(scope="module")
def worlds() -> ModuleType:
    spec = importlib.util.spec_from_file_location("demo_worlds", SCRIPT)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["demo_worlds"] = module
    spec.loader.exec_module(module)
    return module


def test_limits_are_kept_or_missed(worlds: ModuleType) -> None:
    def outcome(power: float, **since: float) -> object:
        return worlds.Outcome(1, 1.0, power, since, {})

    right = [outcome(0.99, Hazel=-0.3)] * 9
    assert worlds.verdict([*right, outcome(0.99)], False)[1]
    assert not worlds.verdict([*right[:8], outcome(0.99), outcome(0.99)], False)[1]
    assert worlds.verdict([*right, outcome(0.3)], False)[1]  # too little power to be expected
    assert not worlds.verdict([*right, outcome(0.99, Hazel=-0.3, Alder=-0.01)], False)[1]
    assert worlds.verdict([*right, outcome(0.99, Hazel=-0.3, Alder=-0.08)], False)[1]  # really apart
    assert not worlds.verdict([*right, outcome(0.99, Hazel=-0.3, Alder=-0.08)], True)[1]


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("more", [(), ("--alike",)], ids=["pens differ a little", "pens alike"])
def test_a_few_worlds_keep_the_limits(more: tuple[str, ...]) -> None:
    asked = [sys.executable, str(SCRIPT), "--worlds", "14", "--first", "401", *more]
    done = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=850)
    assert done.returncode == 0, done.stdout + done.stderr
