"""Our own drawings of eggs: what the light, or the opened shell, shows. Lines in the colour of the text.

The large end is on top, where the air cell is. An embryo is drawn from one number, the share of its days that
have passed, so that every species has its own days beside the same drawings.
"""

from __future__ import annotations

import html
from collections.abc import Callable

_SHELL = "M30 4C46 4 56 18 56 35C56 55 44 72 30 72C16 72 4 55 4 35C4 18 14 4 30 4Z"
_BACK = ((0.62, -0.42), (0.8, -0.1), (0.84, 0.25), (0.68, 0.6), (0.42, 0.86), (0.05, 0.96))
"""Points along the back of a body of size 1, where down is drawn."""
_RAYS = ((1.0, 0.1), (0.6, 0.8), (-0.2, 1.0), (-0.9, 0.4), (-0.85, -0.5), (0.5, -0.85))


def egg_svg(inside: str, alt: str = "", *, shell: bool = True) -> str:
    """An egg with something in it.

    Args:
        inside: SVG within a box of 60 by 76.
        alt: what is drawn, in words; "" where a name stands beside it.
        shell: whether the whole shell is drawn.
    """
    told = f"role='img' aria-label='{html.escape(alt, quote=True)}'" if alt else "aria-hidden='true'"
    outer = f"<path d='{_SHELL}'/>" if shell else ""
    return (
        f"<svg class='pw-egg' viewBox='0 0 60 76' {told} fill='none' stroke='currentColor' stroke-width='2'"
        f" stroke-linecap='round' stroke-linejoin='round'>{outer}{inside}</svg>"
    )


def embryo(share: float, *, beak: bool = True) -> str:
    """What grows in the egg.

    Args:
        share: of the days to hatch that have passed, 0..1.
        beak: whether the beak lies as usual, once there is one.
    """
    grown = min(max(share, 0.0), 1.0)
    size = 2 + 18 * grown
    parts = [_air_cell(grown)]
    if grown < 0.6:
        parts.append(f"<circle cx='30' cy='46' r='{14 + 4 * grown:.1f}' stroke-width='1'/>")
    if 0.1 <= grown < 0.7:
        parts.append(_vessels(size))
    if grown >= 0.12:
        parts.append(_body(size, beak=beak and grown >= 0.35))
    if grown >= 0.45:
        parts.append(_down(size, round((grown - 0.3) * 9)))
    return "".join(parts)


def _air_cell(grown: float) -> str:
    depth, half = 14 + 5 * grown, 14 + 6 * grown
    return f"<path d='M{30 - half:.0f} {depth:.0f}Q30 {depth + 7:.0f} {30 + half:.0f} {depth:.0f}'/>"


def _vessels(size: float) -> str:
    near, far = size * 0.9 + 2, min(size * 0.9 + 10, 21)
    return "".join(
        f"<path stroke-width='1' d='M{30 + x * near:.1f} {46 + y * near:.1f}"
        f"q{y * 3:.1f} {-x * 3:.1f} {x * (far - near):.1f} {y * (far - near):.1f}'/>"
        for x, y in _RAYS
    )


def _body(size: float, *, beak: bool) -> str:
    """A curled body with its eye."""

    def at(x: float, y: float) -> str:
        return f"{29 + x * size:.1f} {46 + y * size:.1f}"

    back = f"<path d='M{at(0.18, -0.55)}C{at(1, -0.5)} {at(1.05, 0.8)} {at(0.2, 0.95)}"
    belly = f"C{at(-0.4, 1.05)} {at(-0.6, 0.6)} {at(-0.3, 0)}'/>"
    x, y = at(-0.25, -0.45).split()
    skull = f"<circle cx='{x}' cy='{y}' r='{size * 0.45:.1f}'/>"
    x, y = at(-0.38, -0.48).split()
    eye = f"<circle cx='{x}' cy='{y}' r='{min(max(size * 0.16, 0.9), 2.4):.1f}' fill='currentColor'/>"
    parts = back + belly + skull + eye
    if beak:
        parts += f"<path fill='currentColor' d='M{at(-0.68, -0.6)}L{at(-0.98, -0.38)}L{at(-0.66, -0.26)}Z'/>"
        parts += f"<path d='M{at(0.15, 0.05)}Q{at(0.6, 0.4)} {at(0.1, 0.62)}' stroke-width='1.4'/>"
    return parts


def _down(size: float, many: int) -> str:
    return "".join(
        f"<path stroke-width='1.2'"
        f" d='M{29 + x * size:.1f} {46 + y * size:.1f}l{x * 3:.1f} {y * 3 + 1.5:.1f}'/>"
        for x, y in _BACK[: max(1, many)]
    )


def _chick(y: float = 0.0) -> str:
    return (
        f"<g transform='translate(0 {y})'><circle cx='38' cy='26' r='9'/><path d='M47 25l6 2-6 3z'"
        " fill='currentColor'/><circle cx='40' cy='24' r='1.6' fill='currentColor'/>"
        "<path d='M30 31C18 34 14 46 20 55C28 62 42 60 45 48C46 42 45 38 43 34'/>"
        "<path d='M24 44q7 6 13-1'/><path d='M27 59v9m-4 1l4-1 4 1M38 59v9m-4 1l4-1 4 1'/></g>"
    )


def _hatched() -> str:
    return _chick()


def _culled() -> str:
    return f"{_chick()}<path d='M6 8L54 70' stroke-width='2.5'/>"


def _infertile() -> str:
    spot = "<path fill='currentColor' d='M28 44l4-1 1 4-4 1z'/>"
    return f"{_air_cell(0.0)}<circle cx='30' cy='46' r='15'/>{spot}"


def _clear() -> str:
    return f"{_air_cell(0.0)}<circle cx='30' cy='46' r='15' stroke-width='1' stroke-dasharray='2 4'/>"


def _early() -> str:
    ring = "<circle cx='30' cy='46' r='15' stroke-width='3'/>"
    eye = "<circle cx='28' cy='45' r='1.6' fill='currentColor'/>"
    return f"{_air_cell(0.1)}{ring}<path d='M27 47q3-6 7-1q1 5-3 5'/>{eye}"


def _mid() -> str:
    return embryo(0.5)


def _late() -> str:
    return embryo(0.95)


def _internal() -> str:
    return embryo(0.95, beak=False) + "<path fill='currentColor' d='M20 31l2-11 5 9z'/>"


def _external() -> str:
    star = "<path d='M46 17l-8 1M46 17l-5 7M46 17l-4-7M46 17l1 9' stroke-width='2.5'/>"
    return _internal() + star


def _rotten() -> str:
    blots = "<path d='M16 40q6-8 13-1t12-3v14q-5 9-13 5t-12-4z' fill='currentColor'/>"
    return f"{blots}<path d='M22 24q3-4 0-8m8 8q3-4 0-8m8 8q3-4 0-8'/>"


def _cracked() -> str:
    return "<path d='M5 36l10-5 7 8 8-9 7 9 8-8 10 6' stroke-width='2.5'/>"


def _unopened() -> str:
    dot = "<circle cx='31' cy='54' r='2' fill='currentColor'/>"
    return f"<path d='M23 32q0-9 8-9t8 8q0 5-6 8-2 1-2 6' stroke-width='3'/>{dot}"


_POSITIONS = {
    1: ((30, 50), (30, 66)), 2: ((30, 58), (24, 66)), 3: ((38, 32), (49, 33)),
    4: ((22, 40), (11, 44)), 5: ((30, 34), (30, 24)), 6: ((34, 30), (42, 22)),
}  # fmt: skip
"""Malposition -> middle of the head, tip of the beak."""
_BESIDE = {
    1: "M14 40Q12 22 30 24Q48 22 46 42M22 62v-14M38 62v-14",
    2: "M16 52Q10 24 30 22Q50 24 44 52",
    3: "M36 44Q22 70 14 52Q10 36 26 28M30 26Q44 18 50 30Q50 40 40 44",
    4: "M26 50Q44 68 48 46Q48 28 30 30",
    5: "M20 40Q10 66 30 68Q50 66 40 40M20 40v-16l6-5M40 40v-16l-6-5",
    6: "M28 40Q12 66 32 68Q52 64 44 38M24 40Q30 44 36 40",
}
"""Malposition -> body, wing or feet."""


def position_svg(number: int, alt: str) -> str:
    """A full-grown chick that lies wrongly.

    Args:
        number: the malposition, 1 to 6.
        alt: what is drawn, in words.
    """
    (x, y), (to_x, to_y) = _POSITIONS[number]
    beak = f"<path d='M{x} {y}L{to_x} {to_y}' stroke-width='3.5'/>"
    head = f"<circle cx='{x}' cy='{y}' r='7'/>"
    return egg_svg(f"{_air_cell(0.4)}<path d='{_BESIDE[number]}'/>{head}{beak}", alt)


_OUTCOMES: dict[str, tuple[Callable[[], str], bool]] = {
    "hatched": (_hatched, False), "culled": (_culled, False), "infertile": (_infertile, True),
    "clear": (_clear, True), "early_dead": (_early, True), "mid_dead": (_mid, True),
    "late_dead": (_late, True), "internal_pip": (_internal, True), "external_pip": (_external, True),
    "rotten": (_rotten, True), "cracked": (_cracked, True), "not_opened": (_unopened, True),
}  # fmt: skip


def outcome_svg(outcome: str, alt: str = "") -> str:
    """What an outcome looks like when the egg is opened.

    Args:
        outcome: a column of outcomes in trays.
        alt: what is drawn, in words; "" where its name stands beside it.
    """
    draw, shell = _OUTCOMES[outcome]
    return egg_svg(draw(), alt, shell=shell)


def day_svg(share: float, alt: str) -> str:
    """An egg under the light when a share of its days has passed."""
    return egg_svg(embryo(share), alt)
