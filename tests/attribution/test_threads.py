"""One thread for linear algebra, unless the user has said otherwise."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

SHOW = "import analytics, os; print(os.environ['OPENBLAS_NUM_THREADS'])"


@pytest.mark.parametrize(("given", "kept"), [(None, "1"), ("4", "4")])
def test_threads_for_linear_algebra(given: str | None, kept: str) -> None:
    surroundings = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    if given:
        surroundings["OPENBLAS_NUM_THREADS"] = given
    done = subprocess.run(
        [sys.executable, "-c", SHOW], env=surroundings, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == kept
