"""What inbreeding and kinship of 100,000 birds cost, for flocks of several shapes.

    python tests/benchmarks/inbreeding_curve.py

Every shape in a process of its own, so that its peak memory is its own. Exits 1 when a flock of usual shape
(up to 300 parents a generation) takes more than 10 seconds, or when the inbreeding of some birds is not the
kinship of their parents worked out apart.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time

SHAPES = {
    # generations, birds a generation, sires, dams
    "20 generations, 50 sires, 250 dams": (20, 5_000, 50, 250),
    "100 generations, 20 sires, 100 dams": (100, 1_000, 20, 100),
    "1,000 generations, 3 sires, 12 dams": (1_000, 100, 3, 12),
    "2 generations, all in pairs": (2, 50_000, 25_000, 25_000),
    "20 generations, all in pairs": (20, 5_000, 2_500, 2_500),
}
USUAL, MOST_SECONDS = 300, 10.0


def flock(generations: int, birds: int, sires: int, dams: int, seed: int = 1) -> list:
    """Birds whose parents are drawn from the generation before; every dam keeps to one sire."""
    import numpy as np

    from analytics.breeders.pedigree import Descent

    random = np.random.default_rng(seed)
    rows = [Descent(f"0.{at}", "mf"[at % 2]) for at in range(birds)]
    for generation in range(1, generations):
        males, females = (
            [f"{generation - 1}.{2 * at + sex}" for at in random.choice(birds // 2, many, replace=False)]
            for sex, many in ((0, sires), (1, dams))
        )
        rows += [
            Descent(f"{generation}.{at}", "mf"[at % 2], males[at % dams % sires], females[at % dams])
            for at in range(birds)
        ]
    return rows


def measure(shape: tuple[int, int, int, int]) -> dict[str, float]:
    """Works one flock out and says what it cost."""
    import numpy as np

    from analytics.breeders.inbreeding import inbreeding, kinship
    from analytics.breeders.pedigree import pedigree

    rows = flock(*shape)
    started = time.perf_counter()
    known = pedigree(rows)
    ordered = time.perf_counter()
    found = inbreeding(known)
    done = time.perf_counter()
    last = np.arange(len(known.birds) - 100, len(known.birds))
    pairs = [[known.birds[at] for at in parent[last]] for parent in (known.sire, known.dam)]
    again = kinship(known, *pairs, found).diagonal()
    return {
        "birds": len(known.birds),
        "order": ordered - started,
        "inbreeding": done - ordered,
        "kinship": time.perf_counter() - done,
        "mean": float(found[last].mean()),
        "apart": float(np.abs(again - found[last]).max()),
        "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def main() -> int:
    """Runs every shape; 1 where one is too slow or wrong."""
    heading = (
        f"{'shape':<36} {'birds':>8} {'order s':>8} {'F s':>7} {'kinship s':>9} {'mean F':>7} {'MB':>6}\n"
    )
    sys.stdout.write(heading)
    failed = 0
    for name, shape in SHAPES.items():
        done = subprocess.run([sys.executable, __file__, name], capture_output=True, text=True, check=True)
        cost = json.loads(done.stdout)
        wrong = cost["apart"] > 1e-9
        slow = shape[2] + shape[3] <= USUAL and cost["order"] + cost["inbreeding"] > MOST_SECONDS
        failed += wrong or slow
        sys.stdout.write(
            f"{name:<36} {cost['birds']:>8,} {cost['order']:>8.2f} {cost['inbreeding']:>7.2f} "
            f"{cost['kinship']:>9.2f} {cost['mean']:>7.4f} {cost['megabytes']:>6.0f}"
            f"{'  WRONG' if wrong else ''}{'  TOO SLOW' if slow else ''}\n"
        )
        sys.stdout.flush()
    return int(failed > 0)


if __name__ == "__main__":
    if sys.argv[1:]:
        sys.stdout.write(json.dumps(measure(SHAPES[sys.argv[1]])))
    else:
        sys.exit(main())
