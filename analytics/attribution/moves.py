"""Draws moved until they are draws from the posterior itself, not from an approximation to it.

Every draw is a chain of its own, and all are moved at once. Three moves make a sweep; each leaves the
joint posterior of slopes, effects, trays' own terms and sds as it is:
- slopes, effects and trays' terms along a trajectory with the sds held (Hamiltonian Monte Carlo: Neal 2011,
  Handbook of Markov Chain Monte Carlo, ch. 5; from memory). Its mass is the information at the mode of a
  place near the draw's sds, so that a step is as long in every direction as the posterior is wide.
- each sd in turn with the standardised effects held: the effects grow and shrink with it.
- each sd in turn with the effects themselves held. Where eggs say little of each level the former moves
  far, where they say much the latter (interweaving: Yu and Meng 2011, J. Comput. Graph. Stat. 20; from
  memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analytics.attribution.layout import Floats, Ints
from analytics.attribution.peak import Peak, Problem

LENGTH = 2.0
WANTED = 0.75
STEP = 1.1
UNEVEN = 0.2
REACH_HELD, REACH_FREE, WIDEST = 1.5, 1.1, 2.0
FREEDOM = 5.0
LEAST_REACH = 0.05
ROOM = 50_000


@dataclass(slots=True)
class Cloud:
    """Draws in motion, one column each.

    Attributes:
        row: slopes and standardised effects, shape (unknowns, draws).
        noise: trays' own standardised terms, shape (trays, draws).
        sds: of every factor, then of the tray noise where there is one, shape (sds, draws).
    """

    row: Floats
    noise: Floats
    sds: Floats


@dataclass(slots=True)
class Mover:
    """What the moves need, and how long their steps have become.

    Attributes:
        problem: the counts on their layout.
        anchors: modes at several places, whose information the trajectories use.
        free: positions of the sds that move.
        reach: how far each of those is known, as sd of its logarithm.
        sd_prior: scale of their half-normal prior.
        rng: the random numbers.
        step: length of a leap, for each anchor.
        tables: trays x levels of each factor.
        turned: the design, transposed.
    """

    problem: Problem
    anchors: Sequence[Peak]
    free: Ints
    reach: Floats
    sd_prior: float
    rng: np.random.Generator
    step: Floats = field(init=False)
    tables: tuple[Any, ...] = field(init=False)
    turned: Any = field(init=False)

    def __post_init__(self) -> None:
        design = self.problem.layout.design
        self.step = np.full(len(self.anchors), STEP * sum(design.shape) ** -0.25)
        self.tables = tuple(design[:, span] for span in self.problem.layout.spans)
        self.turned = design.T.tocsr()
        self.reach = np.maximum(self.reach, LEAST_REACH)

    def sweep(self, cloud: Cloud) -> None:
        """Moves every draw once in every way."""
        eta = self._fly(cloud)
        trays, size = eta.shape
        step = max(1, ROOM // trays)
        for low in range(0, size if len(self.free) else 0, step):
            part = slice(low, low + step)
            self._resize(Cloud(cloud.row[:, part], cloud.noise[:, part], cloud.sds[:, part]), eta[:, part])

    def _resize(self, part: Cloud, eta: Floats) -> None:
        """Moves the sds of some of the draws, in place."""
        chance = _log_chance(self.problem, eta)
        for at, reach in zip(self.free, self.reach, strict=True):
            chance = self._stretch(part, int(at), float(reach), eta, chance)
        for at in self.free:
            self._rescale(part, int(at))

    def _fly(self, cloud: Cloud) -> Floats:
        """One trajectory for each draw, anchor by anchor; the linear predictors where they end."""
        eta = np.empty_like(cloud.noise)
        nearest = self._nearest(cloud.sds)
        for at, anchor in enumerate(self.anchors):
            those = np.flatnonzero(nearest == at)
            if len(those):
                course = _Course(self.problem, self.turned, anchor, cloud.sds[:, those])
                start = course.spot(cloud.row[:, those], cloud.noise[:, those])
                step = self.step[at] * self.rng.uniform(1 - UNEVEN, 1 + UNEVEN)
                end, gain = course.follow(start, step, self.rng)
                taken = np.log(self.rng.random(len(those))) < gain
                cloud.row[:, those] = np.where(taken, end.row, start.row)
                cloud.noise[:, those] = np.where(taken, end.noise, start.noise)
                eta[:, those] = np.where(taken, end.eta, start.eta)
                self.step[at] *= np.exp(np.exp(np.minimum(gain, 0)).mean() - WANTED)
        return eta

    def _nearest(self, sds: Floats) -> Ints:
        """The anchor nearest to each draw's sds."""
        if not len(self.free):
            return np.zeros(sds.shape[1], dtype=np.int64)
        logs = np.log(sds[self.free])
        places = np.log([anchor.sds[self.free] for anchor in self.anchors])
        apart = (logs[None] - places[:, :, None]) / self.reach[:, None]
        return np.asarray((apart**2).sum(axis=1).argmin(axis=0), dtype=np.int64)

    def _stretch(self, cloud: Cloud, at: int, reach: float, eta: Floats, chance: Floats) -> Floats:
        """Moves a sd with the standardised effects held; `eta` follows. The new log chances."""
        spans, old = self.problem.layout.spans, cloud.sds[at]
        shape = self.tables[at] @ cloud.row[spans[at]] if at < len(spans) else cloud.noise
        new = old * np.exp(REACH_HELD * reach * self.rng.standard_normal(len(old)))
        there = eta + (new - old) * shape
        found = _log_chance(self.problem, there)
        gain = found - chance - (new**2 - old**2) / (2 * self.sd_prior**2) + np.log(new / old)
        taken = np.log(self.rng.random(len(old))) < gain
        cloud.sds[at] = np.where(taken, new, old)
        np.copyto(eta, there, where=taken)
        return np.where(taken, found, chance)

    def _rescale(self, cloud: Cloud, at: int) -> None:
        """Moves a sd with the effects held: proposed from a t distribution around its mode given them."""
        spans, old = self.problem.layout.spans, cloud.sds[at]
        block = cloud.row[spans[at]] if at < len(spans) else cloud.noise
        levels, square = len(block), (block**2).sum(axis=0) * old**2
        low, scale = levels - 1.0, self.sd_prior**-2
        mode = 2 * square / (low + np.sqrt(low**2 + 4 * square * scale))
        middle = 0.5 * np.log(mode)
        width = np.minimum(REACH_FREE / np.sqrt(2 * (square / mode + mode * scale)), WIDEST)
        t = self.rng.standard_t(FREEDOM, len(old))
        before, after = np.log(old), middle + width * t
        gain = low * (before - after)
        with np.errstate(over="ignore"):  # a t that far out is refused
            gain += 0.5 * square * (np.exp(-2 * before) - np.exp(-2 * after))
            gain += 0.5 * scale * (np.exp(2 * before) - np.exp(2 * after))
        gain += (FREEDOM + 1) / 2 * np.log((FREEDOM + t**2) / (FREEDOM + ((before - middle) / width) ** 2))
        new = np.where(np.log(self.rng.random(len(old))) < gain, np.exp(after), old)
        block *= old / new
        cloud.sds[at] = new


def _log_chance(problem: Problem, eta: Floats) -> Floats:
    """Binomial log-likelihood of each draw, without its constant."""
    soft = np.abs(eta)
    np.negative(soft, out=soft)
    np.exp(soft, out=soft)
    soft += 1
    np.log(soft, out=soft)
    soft += np.maximum(eta, 0)
    return np.asarray(problem.passed @ eta - problem.eggs @ soft)


@dataclass(frozen=True, slots=True)
class _Spot:
    """Where trajectories stand: the unknowns, the log density and its slope in them."""

    row: Floats
    noise: Floats
    eta: Floats
    height: Floats
    row_slope: Floats
    noise_slope: Floats


@dataclass(frozen=True, slots=True)
class _Speed:
    """How fast they move."""

    row: Floats
    noise: Floats


class _Course:
    """The field that draws with given sds move in, and the mass they move with."""

    def __init__(self, problem: Problem, turned: Any, anchor: Peak, sds: Floats) -> None:
        layout = problem.layout
        self.problem, self.turned, self.anchor = problem, turned, anchor
        self.ridge = problem.ridge[:, None]
        self.scale = np.ones((layout.unknowns, sds.shape[1]))
        for span, sd in zip(layout.spans, sds, strict=False):
            self.scale[span] = sd
        self.noise = sds[-1] if problem.tray_noise else np.zeros(sds.shape[1])
        own = float(anchor.sds[-1]) if problem.tray_noise else 0.0
        self.tie = (own * anchor.weight)[:, None]
        self.shrink, self.own = anchor.shrink[:, None], anchor.arrow.scale[:, None]

    def spot(self, row: Floats, noise: Floats) -> _Spot:
        """The log density and its slope."""
        problem = self.problem
        eta = problem.layout.design @ (self.scale * row)
        eta += problem.offset[:, None]
        eta += self.noise * noise
        small = np.exp(-np.abs(eta))
        residual = np.where(eta >= 0, 1.0, small)
        small += 1
        residual /= small
        residual *= -problem.eggs[:, None]
        residual += problem.passed[:, None]
        np.log(small, out=small)
        small += np.maximum(eta, 0)
        pull = self.ridge * row
        height = problem.passed @ eta - problem.eggs @ small
        height -= 0.5 * (np.einsum("ij,ij->j", pull, row) + np.einsum("ij,ij->j", noise, noise))
        row_slope = self.scale * (self.turned @ residual) - pull
        return _Spot(row, noise, eta, height, row_slope, self.noise * residual - noise)

    def follow(self, spot: _Spot, step: float, rng: np.random.Generator) -> tuple[_Spot, Floats]:
        """A trajectory of a few leaps from a random speed; its end, and what it gains in log density."""
        speed = self._speed(rng.standard_normal(spot.row.shape), rng.standard_normal(spot.noise.shape))
        start = spot.height
        speed, energy = self._kick(spot, speed, step / 2)
        leaps = int(np.ceil(LENGTH / step))
        for leap in range(leaps):
            spot = self.spot(spot.row + step * speed.row, spot.noise + step * speed.noise)
            speed, more = self._kick(spot, speed, step if leap < leaps - 1 else step / 2)
            energy += more
        gain = spot.height - start - energy
        return spot, np.where(np.isfinite(gain), gain, -np.inf)

    def _kick(self, spot: _Spot, speed: _Speed, time: float) -> tuple[_Speed, Floats]:
        """The speed changed by the slope, and the energy of motion won by it."""
        row, noise = self._solve(spot.row_slope, spot.noise_slope)
        mean = _Speed(speed.row + time / 2 * row, speed.noise + time / 2 * noise)
        energy = np.einsum("ij,ij->j", mean.row, spot.row_slope)
        energy += np.einsum("ij,ij->j", mean.noise, spot.noise_slope)
        return _Speed(speed.row + time * row, speed.noise + time * noise), time * energy

    def _solve(self, row: Floats, noise: Floats) -> tuple[Floats, Floats]:
        """The inverse of the anchor's information times a slope; trays' terms are set aside first."""
        held = self.shrink * noise
        found = self.anchor.arrow.solve(row - self.own * (self.turned @ (self.tie * held)))
        return found, held - self._lean(found)

    def _speed(self, row: Floats, noise: Floats) -> _Speed:
        """Standard normal numbers turned into speeds with that inverse as covariance."""
        found = self.anchor.arrow.spread(row)
        return _Speed(found, np.sqrt(self.shrink) * noise - self._lean(found))

    def _lean(self, row: Floats) -> Floats:
        """How trays' terms give way to a change of the rest."""
        return np.asarray(self.shrink * self.tie * (self.problem.layout.design @ (self.own * row)))
