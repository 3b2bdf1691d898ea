"""What is left open, against trying everything; the worth of partly opened trays, against drawing them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import combinations_with_replacement, product

import numpy as np
import pytest

from analytics.measures.counts import LadderCounts, Stages
from analytics.measures.stages import (
    OUTCOMES,
    Extreme,
    Portion,
    allocations,
    effective_eggs,
    extremes,
    shared_out,
)

FERTILE = ("hatched", "early", "mid", "late", "shell")
PORTIONS = {
    "fertility": Portion(FERTILE, OUTCOMES),
    "hatch of fertile": Portion(("hatched",), FERTILE),
    "early of fertile": Portion(("early",), FERTILE),
    "late of fertile": Portion(("late",), FERTILE),
    "mid of entering": Portion(("mid",), ("hatched", "mid", "late", "shell")),
    "shell of entering": Portion(("shell",), ("hatched", "shell")),
}
OneTray = Callable[..., LadderCounts]


def _every_way(counts: LadderCounts) -> Iterator[np.ndarray]:
    """Settles egg by egg, in every way there is."""
    fixed = counts.opened
    groups = [(fixed.clear, [1, 2]), (fixed.unstaged, [1, 2, 3, 4, 5]), (counts.unknown, [1, 2, 3, 4, 5])]
    ways = [list(combinations_with_replacement(places, int(eggs))) for eggs, places in groups]
    for way in product(*ways):
        eggs = np.array([counts.hatched, fixed.infertile, fixed.early, fixed.mid, fixed.late, fixed.shell])
        for place in (place for group in way for place in group):
            eggs[place] += 1
        yield eggs


@pytest.mark.parametrize("name", PORTIONS)
@pytest.mark.parametrize(
    ("hatched", "opened", "unknown"),
    [
        (7, Stages(infertile=1, clear=3, early=1, late=2), 3),
        (0, Stages(infertile=2, clear=2, unstaged=2), 2),
        (0, Stages(clear=3), 2),
        (5, Stages(infertile=2, unstaged=2), 0),
        (4, Stages(shell=1), 4),
        (5, Stages(infertile=2, early=1, mid=1, late=1, shell=1), 0),
    ],
)
def test_extremes_are_those_of_trying_everything(
    one_tray: OneTray, name: str, hatched: int, opened: Stages, unknown: int
) -> None:
    counts, portion = one_tray(hatched, opened, unknown), PORTIONS[name]
    tried = [(eggs @ portion.top, eggs @ portion.base) for eggs in _every_way(counts)]
    shares = [(top / base, base) for top, base in tried if base > 0]
    low, high = min(share for share, _ in shares), max(share for share, _ in shares)
    found = extremes(allocations(counts), portion)
    assert found
    for end, share in zip(found, (low, high), strict=True):
        assert end.share == share
        if 0 < share < 1:  # at 0 and 1 the limit does not depend on the eggs
            assert end.eggs == min(base for found_share, base in shares if found_share == share)


def test_a_rate_of_none_is_judged_on_the_fewest_eggs(one_tray: OneTray) -> None:
    counts = one_tray(0, Stages(infertile=20, late=2), unknown=3)
    found = extremes(allocations(counts), PORTIONS["hatch of fertile"])
    assert found == (Extreme(0, 2), Extreme(0, 2))


def test_an_empty_denominator_has_no_extremes(one_tray: OneTray) -> None:
    counts = one_tray(0, Stages(infertile=5))
    assert extremes(allocations(counts), PORTIONS["hatch of fertile"]) is None


def test_nothing_open_is_one_way(one_tray: OneTray) -> None:
    counts = one_tray(7, Stages(1, 0, 2, 1, 1, 1), culled=2)
    assert allocations(counts).tolist() == [[9, 1, 2, 1, 1, 1]]


def test_pens_that_opened_nothing_follow_the_others() -> None:
    counts = LadderCounts(
        hatched=50,
        opened=Stages(infertile=3, early=1),
        unknown=10,
        shared=Stages(infertile=1.5, early=0.5),
        unshared=8.0,
    )
    settled = shared_out(counts, splits_clear=True)
    assert settled is not None
    assert settled == pytest.approx([50, 10.5, 3.5, 0, 0, 0])  # 14 unhatched, three quarters infertile


def test_without_an_opened_egg_nothing_is_shared(one_tray: OneTray) -> None:
    assert shared_out(one_tray(9, Stages(), unknown=1), splits_clear=False) is None


def test_culled_chicks_hatched_and_eggs_without_a_stage_go_with_the_early_dead(one_tray: OneTray) -> None:
    counts = one_tray(10, Stages(infertile=4, clear=1, early=2, late=5, unstaged=3), culled=2)
    found = shared_out(counts, splits_clear=False)
    assert found is not None
    assert dict(zip(OUTCOMES, found.tolist(), strict=True)) == {
        "hatched": 12, "infertile": 4, "early": 2 + 1 + 3, "mid": 0, "late": 5, "shell": 0,
    }  # fmt: skip
    assert shared_out(counts, splits_clear=True) is None


def test_clear_eggs_matter_only_where_infertile_is_told_from_early(one_tray: OneTray) -> None:
    counts = one_tray(9, Stages(clear=2, late=1))
    assert shared_out(counts, PORTIONS["fertility"].splits_clear) is None
    settled = shared_out(counts, PORTIONS["mid of entering"].splits_clear)
    assert settled is not None
    assert settled @ PORTIONS["mid of entering"].base == 10
    assert [name for name in PORTIONS if PORTIONS[name].splits_clear] == [
        "fertility",
        "hatch of fertile",
        "early of fertile",
        "late of fertile",
    ]


@pytest.mark.parametrize("name", PORTIONS)
@pytest.mark.parametrize("hatched", [0, 7, 40])
def test_fully_opened_eggs_are_worth_what_they_are(one_tray: OneTray, name: str, hatched: int) -> None:
    counts, portion = one_tray(hatched, Stages(infertile=4, early=3, mid=1, late=2, shell=2)), PORTIONS[name]
    settled = shared_out(counts, splits_clear=True)
    assert settled is not None
    assert effective_eggs(counts, portion, settled) == pytest.approx(settled @ portion.base, rel=1e-12)


@pytest.mark.parametrize("name", PORTIONS)
@pytest.mark.parametrize(("part", "eggs"), [(1.0, 200), (0.6, 200), (0.25, 400)])
def test_worth_of_partly_opened_eggs_is_that_of_drawing_them(name: str, part: float, eggs: int) -> None:
    portion, chances = PORTIONS[name], np.array([0.7, 0.09, 0.08, 0.03, 0.06, 0.04])
    rng = np.random.default_rng(11)
    drawn = rng.multinomial(eggs, chances, 4000)
    unhatched = drawn[:, 1:].sum(axis=1)
    opened = rng.multivariate_hypergeometric  # one draw at a time: sampling without replacement
    found = []
    for row, left in zip(drawn, unhatched, strict=True):
        seen = opened(row[1:], max(5, round(part * left)))
        settled = np.concatenate([[row[0]], seen * left / seen.sum()])
        found.append(settled @ portion.top / (settled @ portion.base))
    share = chances @ portion.top / (chances @ portion.base)
    counts = _typical(eggs, chances, part)
    settled = shared_out(counts, splits_clear=True)
    assert settled is not None
    worth = effective_eggs(counts, portion, settled)
    # 4000 draws: a variance is known to some 2.2 %, three of them and the curve of a ratio allowed
    assert np.var(found) == pytest.approx(share * (1 - share) / worth, rel=0.12)


@pytest.mark.parametrize("name", PORTIONS)
@pytest.mark.parametrize("part", [1.0, 0.5, 0.1])
def test_worth_of_partly_opened_eggs_is_the_delta_method(name: str, part: float) -> None:
    portion, chances = PORTIONS[name], np.array([0.7, 0.09, 0.08, 0.03, 0.06, 0.04])
    eggs, failing = 10_000_000, 1 - chances[0]
    stage = chances[1:] / failing

    def share(failing: float, stage: np.ndarray) -> float:
        settled = np.concatenate([[1 - failing], failing * stage])
        return float(settled @ portion.top / (settled @ portion.base))

    step = 1e-6
    by_failing = (share(failing + step, stage) - share(failing - step, stage)) / (2 * step)
    by_stage = np.array(
        [
            (share(failing, stage + way) - share(failing, stage - way)) / (2 * step)
            for way in step * np.eye(len(stage))
        ]
    )
    of_stage = np.diag(stage) - np.outer(stage, stage)
    variance = by_failing**2 * failing * (1 - failing) / eggs
    variance += by_stage @ of_stage @ by_stage / (part * failing * eggs)
    counts = _typical(eggs, chances, part)
    settled = shared_out(counts, splits_clear=True)
    assert settled is not None
    rate = share(failing, stage)
    assert rate * (1 - rate) / effective_eggs(counts, portion, settled) == pytest.approx(variance, rel=1e-4)


def _typical(eggs: int, chances: np.ndarray, part: float) -> LadderCounts:
    expected = eggs * chances
    seen = [part * count for count in expected[1:]]
    left = (1 - part) * expected[1:].sum()
    hidden = [(1 - part) * count for count in expected[1:]]
    stages = ("infertile", "early", "mid", "late", "shell")
    return LadderCounts(
        eggs_set=eggs,
        hatched=int(expected[0]),
        opened=Stages(**dict(zip(stages, seen, strict=True))),
        unknown=round(left),
        shared=Stages(**dict(zip(stages, hidden, strict=True))),
        opened_squares=sum(seen) / part**2,
    )


def test_uneven_opening_is_worth_less_than_even_opening(one_tray: OneTray) -> None:
    even = one_tray(60, Stages(infertile=10, early=10), unknown=20)
    settled = shared_out(even, splits_clear=True)
    assert settled is not None
    uneven = replace(even, opened_squares=even.opened_squares * 1.5)
    portion = PORTIONS["fertility"]
    assert effective_eggs(uneven, portion, settled) < effective_eggs(even, portion, settled)
    borrowed = replace(even, opened_squares=0.0)  # all that is known comes from other trays
    assert 0 < effective_eggs(borrowed, portion, settled) < effective_eggs(uneven, portion, settled)


def test_no_unhatched_egg_is_worth_all(one_tray: OneTray) -> None:
    counts = one_tray(30, Stages())
    settled = shared_out(counts, splits_clear=True)
    assert settled is not None
    assert effective_eggs(counts, PORTIONS["fertility"], settled) == 30
