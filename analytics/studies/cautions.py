"""The usual care around eggs and machines, said in one place wherever it comes up.

No recipe for a disinfectant or a gas is given anywhere: labels, local rules and a veterinarian decide.
"""

from __future__ import annotations

from collections.abc import Collection

ROTTEN = (
    "Rotten eggs can burst and carry germs such as Salmonella. Take them out with gloves, keep them from the "
    "other eggs and from children, wash your hands, and clean the machine as its maker says. Where many eggs "
    "rot or chicks fall ill, ask a veterinarian, and follow the rules of your place."
)
"""Common practice, no source; after US Centers for Disease Control and extension pages."""
OPENING = (
    "Open unhatched eggs out of doors or over a bag, with gloves and covered eyes; an egg that smells or "
    "sweats stays shut. Wash hands and tools afterwards."
)
"""Common practice, no source."""
DISINFECTING = (
    "Disinfectants harm people, chicks and embryos when used wrongly, and fumigation gas causes cancer. "
    "Follow the label and the rules of your country; penwise gives no recipe. Never fumigate with eggs of "
    "the first days in the machine (Wilson, University of Florida: 12 to 96 hours)."
)
NOTIFIABLE = (
    "Many birds ill or dead at once, or a sudden fall in lay, may be a disease that must be reported by law: "
    "move no birds or eggs and call a veterinarian."
)
"""Common practice, no source."""


def cautions_for(signs: Collection[str]) -> tuple[str, ...]:
    """What must be said beside some signs, a sentence or two each; empty where nothing must.

    Args:
        signs: words of the signs shown.
    """
    found = []
    if "rotten" in signs:
        found += [ROTTEN, DISINFECTING]
    if {"weak", "malformed"} & set(signs):
        found.append(NOTIFIABLE)
    return tuple(found)
