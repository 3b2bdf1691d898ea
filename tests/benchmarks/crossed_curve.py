"""What a fit of the crossed model costs from 400 to 500,000 trays.

    python tests/benchmarks/crossed_curve.py [--largest TRAYS]

Pens, machines, batches, tray noise and two covariates; every size in a process of its own, so that
its peak memory is its own. Exits 1 when a fit does not converge or misses a true sd by more than
four standard errors, or when one likelihood costs more than four times as much per tray at the largest
size as at the cheapest: the cost must stay in proportion to the trays.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from statistics import median

SIZES = (
    # trays, pens, machines, batches
    (400, 12, 3, 60),
    (2_000, 24, 6, 200),
    (10_000, 50, 10, 700),
    (30_000, 100, 20, 2_000),
    (100_000, 150, 30, 6_500),
    (500_000, 300, 60, 30_000),
)
SDS = {"pen": 0.4, "machine": 0.3, "batch": 0.3, "tray": 0.3}
SLOPES = (1.5, -0.3, -0.2)
DEAREST = 4.0
HEADING = "  trays  pens machines batches  seconds  likelihoods  ms each  us per tray  peak MB  worst miss"


def farm(trays: int, pens: int, machines: int, batches: int, seed: int = 1) -> tuple:
    """Counts, eggs, columns of x and codes by factor; every batch lies in one machine."""
    import numpy as np

    rng = np.random.default_rng(seed)
    batch = np.sort(rng.integers(0, batches, trays))
    machine = rng.integers(0, machines, batches)[batch]
    pen = rng.integers(0, pens, trays)
    slopes = np.column_stack([np.ones(trays), rng.normal(size=(trays, 2))])
    eggs = rng.integers(20, 60, trays)
    eta = slopes @ SLOPES + SDS["tray"] * rng.normal(size=trays)
    codes = {"pen": (pen, pens), "machine": (machine, machines), "batch": (batch, batches)}
    for name, (level, count) in codes.items():
        eta += SDS[name] * rng.normal(size=count)[level]
    return rng.binomial(eggs, 1 / (1 + np.exp(-eta))), eggs, slopes, codes


def measure(size: tuple[int, int, int, int], repeats: int) -> dict[str, float]:
    """Fits one farm and says what it cost."""
    import numpy as np

    from analytics.attribution.crossed import Factor, fit

    passed, eggs, slopes, codes = farm(*size)
    factors = [Factor(name, level, tuple(map(str, range(n)))) for name, (level, n) in codes.items()]
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        found = fit(passed, eggs, slopes, factors)
        seconds.append(time.perf_counter() - start)
    errors = np.sqrt(np.diagonal(found.scales.log_covariance))
    miss = np.abs(np.log(found.scales.sd / list(SDS.values()))) / errors
    return {
        "seconds": median(seconds),
        "likelihoods": found.convergence.evaluations,
        "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "miss": float(miss.max()) if found.convergence.converged else float("inf"),
    }


def in_own_process(size: tuple[int, int, int, int]) -> dict[str, float]:
    """Runs `measure` in a fresh process with one thread for linear algebra."""
    repeats = 15 if size[0] <= 2_000 else 3 if size[0] <= 30_000 else 1
    command = [sys.executable, __file__, "--one", json.dumps([*size, repeats])]
    done = subprocess.run(
        command, capture_output=True, text=True, check=True, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    )
    return json.loads(done.stdout)


def table(largest: int) -> int:
    """Prints the table; returns the exit code."""
    say = sys.stdout.write
    say(HEADING + "\n")
    each, good = [], True
    for size in (size for size in SIZES if size[0] <= largest):
        cost = in_own_process(size)
        one = cost["seconds"] / cost["likelihoods"]
        each.append(one / size[0])
        good &= cost["miss"] <= 4
        say(
            f"{size[0]:>7} {size[1]:>5} {size[2]:>8} {size[3]:>7} {cost['seconds']:>8.3f} "
            f"{cost['likelihoods']:>12} {one * 1e3:>8.2f} {each[-1] * 1e6:>12.2f} "
            f"{cost['megabytes']:>8.0f} {cost['miss']:>11.2f}\n"
        )
    ratio = each[-1] / min(each)
    say(f"one likelihood per tray, largest size against the cheapest: {ratio:.2f} (limit {DEAREST})\n")
    return 0 if good and ratio <= DEAREST else 1


def main() -> int:
    """Reads the arguments."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--largest", type=int, default=500_000, help="leave out larger sizes")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        *size, repeats = json.loads(asked.one)
        sys.stdout.write(json.dumps(measure(tuple(size), repeats)))
        return 0
    return table(asked.largest)


if __name__ == "__main__":
    raise SystemExit(main())
