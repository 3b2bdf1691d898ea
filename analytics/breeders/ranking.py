"""Which breeders to keep: each one's own rate, the chance that replacing it pays, and what to do.

A pen's own rate is the typical one less what the ledger of losses counts to the pen itself, so that it is not
blamed for its machine, storage, hen age, feed or season. Being read from the same draws, it says what the
ledger says. Draws lean towards the typical pen as far as a pen's eggs are few.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from analytics.attribution.layout import Floats
from analytics.attribution.ledger import Account
from analytics.attribution.terms import BETWEEN, BY_MONTH
from analytics.errors import DataTooThin, WrongUsage

Advice = Literal["keep", "watch", "replace", "too_few_eggs"]
SURE = 0.9
"""Chance that replacing pays from which it is advised, and below one less it, keeping (our own choice)."""
KNOWN = 0.5
"""Reliability below which a breeder that is not decided has too few eggs (our own choice)."""
TAIL = 0.025


@dataclass(frozen=True, slots=True)
class CostRule:
    """What a breeder's replacement must bring in, in any one unit of money.

    The figures to start with are our own choice, without a source: they are there to be replaced.

    Attributes:
        chick_value: of a chick that hatched.
        egg_cost: of an egg that is set, or what it would sell for.
        replacement_cost: of replacing a pen or a bird, the eggs missed meanwhile with it.
        eggs_ahead: eggs that it would still set; None = as many as it set in the time looked at.
    """

    chick_value: float = 1.0
    egg_cost: float = 0.2
    replacement_cost: float = 15.0
    eggs_ahead: float | None = None

    def gain(self, rate: Floats, instead: Floats, eggs: float) -> Floats:
        """What replacing brings in: eggs ahead at the rate instead of its own, less the cost of it.

        An egg that costs more than it brings would be sold instead of being set, so it is worth nothing,
        and not less.

        Args:
            rate: chicks per egg set of the breeder, draw by draw.
            instead: chicks per egg set of one in its place, likewise.
            eggs: eggs set in the time looked at.
        """
        ahead = eggs if self.eggs_ahead is None else self.eggs_ahead
        worth = np.maximum(rate * self.chick_value - self.egg_cost, 0.0)
        better = np.maximum(instead * self.chick_value - self.egg_cost, 0.0)
        return np.asarray(ahead * (better - worth) - self.replacement_cost)


def check_costs(rule: CostRule) -> None:
    """Refuses costs that are none.

    Raises:
        WrongUsage: a value below 0 or not finite, a chick worth nothing, no egg ahead.
    """
    given = (rule.chick_value, rule.egg_cost, rule.replacement_cost, rule.eggs_ahead or 1.0)
    if not np.isfinite(given).all() or min(given) < 0 or not rule.chick_value or rule.eggs_ahead == 0:
        raise WrongUsage(
            "The costs", "They are 0 or more, a chick's value and the eggs ahead more than 0", "Give others"
        )


@dataclass(frozen=True, slots=True)
class OwnRates:
    """Chicks per egg set of every breeder, all else being typical.

    Attributes:
        names: of pens, sires or dams.
        eggs: eggs of each that are counted, shape (names,).
        chicks: chicks out of them.
        rates: draws of the own rates, shape (draws, names).
        typical: draws of the typical rate, shape (draws,).
        lost: step -> chicks that each lost in it by itself, of 100 eggs, shape (names,).
    """

    names: tuple[str, ...]
    eggs: Floats
    chicks: Floats
    rates: Floats
    typical: Floats
    lost: Mapping[str, Floats]

    def lost_of(self, name: str) -> dict[str, float]:
        """Step -> chicks that one lost in it by itself, of 100 eggs."""
        at = self.names.index(name)
        return {step: float(lost[at]) for step, lost in self.lost.items()}


@dataclass(frozen=True, slots=True)
class Standing:
    """A breeder and what to do with it.

    Attributes:
        name: label.
        eggs: eggs counted.
        chicks: chicks out of them.
        rate: chicks per egg set, all but the breeder typical.
        low: lower end of the 95 % interval.
        high: upper end.
        target: what it is held against.
        probability_below_target: probability that its rate is below that.
        chicks_lost_per_100: chicks lost of 100 eggs against the target; negative = won.
        probability_pays: probability that replacing it pays.
        reliability: share of the differences between breeders that is known of it, 0..1.
        advice: keep, watch, replace or too_few_eggs.
    """

    name: str
    eggs: float
    chicks: float
    rate: float
    low: float
    high: float
    target: float
    probability_below_target: float
    chicks_lost_per_100: float
    probability_pays: float
    reliability: float
    advice: Advice


ByLevel = tuple[tuple[str, ...], dict[str, Floats]]
"""Levels, and step -> chicks of each, shape (draws, levels)."""
Part = tuple[str, str, float]
"""Factor, level, and the eggs over which its loss is spread."""


def own_rates(
    found: Account,
    eggs: Mapping[str, float],
    chicks: Mapping[str, float],
    factor: str = "pen",
    parts: Mapping[str, Sequence[Part]] | None = None,
) -> OwnRates:
    """The own rates that an account of losses holds.

    Args:
        found: the account of the trays counted.
        eggs: name -> eggs counted.
        chicks: name -> chicks out of them.
        factor: pen, sire or dam.
        parts: name -> what its own loss is made of; None = of each, its own level of the factor.

    Raises:
        DataTooThin: the account does not tell two of them apart.
    """
    if parts is None:
        parts = {name: ((factor, name, count),) for name, count in eggs.items()}
    losses = {one: _lost(found, one) for one in {part[0] for own in parts.values() for part in own}}
    of_one = {name: _of_one(losses, own) for name, own in parts.items() if eggs.get(name, 0) > 0}
    names = tuple(sorted(name for name, lost in of_one.items() if lost))
    if len(names) < 2:
        raise DataTooThin(
            f"Fewer than two {factor}s can be told apart in these records",
            "One alone has nothing to be ranked against",
            "Widen the days or the pens asked for",
        )
    typical: Floats = np.prod(1 - found.expected, axis=1)
    steps = list(dict.fromkeys(step for name in names for step in of_one[name]))
    none = np.zeros(len(typical))
    lost = {step: np.column_stack([of_one[name].get(step, none) for name in names]) for step in steps}
    return OwnRates(
        names=names,
        eggs=np.array([eggs[name] for name in names]),
        chicks=np.array([chicks.get(name, 0.0) for name in names]),
        rates=np.clip(typical[:, None] - np.sum(list(lost.values()), axis=0), 0.0, 1.0),
        typical=typical,
        lost={step: 100 * each.mean(axis=0) for step, each in lost.items()},
    )


def _of_one(losses: Mapping[str, ByLevel], parts: Sequence[Part]) -> dict[str, Floats]:
    """Step -> chicks per egg that one breeder lost, draw by draw; {} where a part is not in the account."""
    found: dict[str, Floats] = {}
    for factor, level, eggs in parts:
        levels, by_step = losses[factor]
        if level not in levels or not eggs > 0:
            return {}
        for step, lost in by_step.items():
            found[step] = found.get(step, 0.0) + lost[:, levels.index(level)] / eggs
    return found


def _lost(found: Account, factor: str) -> ByLevel:
    """Levels of a factor, and chicks that each lost by itself in each step, its own months among them."""
    levels, by_step = found.items.get(("flock", factor), ((), {}))
    key = ("flock", factor + BY_MONTH)
    cells, months = found.months.get(key, ((), {}))
    owner = np.array([levels.index(cell.rsplit(BETWEEN, 1)[0]) for cell in cells], dtype=int)
    lost = {}
    for step, whole in by_step.items():
        lost[step] = whole
        if step in months:
            lost[step] = np.zeros_like(whole)
            np.add.at(lost[step].T, owner, months[step].T)
    return tuple(levels), lost


def rank(own: OwnRates, rule: CostRule, target: float | None = None) -> tuple[Standing, ...]:
    """Every breeder beside the others, the one that costs most first.

    Args:
        own: from `own_rates`.
        rule: the costs.
        target: chicks per egg set that each is held against; None = of each, the median of the others' rates.

    Raises:
        WrongUsage: costs that are none.
    """
    check_costs(rule)
    apart = float(own.rates.var(axis=1, ddof=1).mean())
    rows = [_standing(own, at, target, rule, apart) for at in range(len(own.names))]
    rows = _one_stays(sorted(rows, key=lambda row: (-row.probability_pays, row.rate, row.name.casefold())))
    return tuple(rows)


def beside(own: OwnRates, at: int, target: float | None = None) -> Floats:
    """What a breeder is held against, draw by draw: a target that was given, or the others' median."""
    if target is not None:
        return np.full(len(own.rates), target)
    return np.asarray(np.median(np.delete(own.rates, at, axis=1), axis=1))


def _standing(own: OwnRates, at: int, target: float | None, rule: CostRule, apart: float) -> Standing:
    rates, eggs, instead = own.rates[:, at], float(own.eggs[at]), beside(own, at, target)
    low, high = np.quantile(rates, [TAIL, 1 - TAIL], method="weibull")
    pays = float((rule.gain(rates, instead, eggs) > 0).mean())
    from_mean = rates - own.rates.mean(axis=1)
    reliability = float(np.clip(1 - from_mean.var() / apart, 0.0, 1.0)) if apart > 0 else 0.0
    return Standing(
        name=own.names[at],
        eggs=eggs,
        chicks=float(own.chicks[at]),
        rate=float(rates.mean()),
        low=float(low),
        high=float(high),
        target=float(instead.mean()),
        probability_below_target=float((rates < instead).mean()),
        chicks_lost_per_100=100 * float((instead - rates).mean()),
        probability_pays=pays,
        reliability=reliability,
        advice=_advice(pays, reliability),
    )


def _advice(pays: float, reliability: float) -> Advice:
    if pays >= SURE:
        return "replace"
    if pays <= 1 - SURE:
        return "keep"
    return "watch" if reliability >= KNOWN else "too_few_eggs"


def _one_stays(rows: Sequence[Standing]) -> list[Standing]:
    """The best is not replaced when all would be."""
    if all(row.advice == "replace" for row in rows):
        best = max(rows, key=lambda row: row.rate)
        return [replace(row, advice="watch") if row is best else row for row in rows]
    return list(rows)


def eggs_to_know(standing: Standing) -> float:
    """Eggs more after which half of what sets a breeder apart would be known, by its reliability so far.

    The reliability of n eggs is n / (n + k), so k is n (1 - r) / r (Robertson and Lerner 1949, Genetics 34,
    395-411; from memory). Not finite where nothing is known yet.
    """
    if standing.reliability <= 0:
        return float("inf")
    needed = standing.eggs * (1 - standing.reliability) / standing.reliability
    return max(needed - standing.eggs, 0.0)
