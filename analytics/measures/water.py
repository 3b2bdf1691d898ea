"""Water loss of a tray's eggs between two weighings."""

from __future__ import annotations

from analytics.errors import DataTooThin


def water_loss(
    tare_g: float, weight_set_g: float, eggs_set: int, weight_later_g: float, eggs_later: int
) -> float:
    """Share of the weight at setting that an egg has lost, the tray itself taken off.

    Args:
        tare_g: empty tray, g.
        weight_set_g: tray with eggs at setting, g.
        eggs_set: eggs on it then.
        weight_later_g: tray with eggs at the second weighing, g.
        eggs_later: eggs on it then; eggs taken out in between must be known, since the loss is per egg.

    Returns:
        the loss, 0..1 (negative where the tray gained weight, which is a weighing error).

    Raises:
        DataTooThin: no eggs, or a tray that weighs more than tray and eggs together.
    """
    if eggs_set < 1 or eggs_later < 1:
        raise DataTooThin("A weighing without eggs", "Water loss is per egg", "Write down the eggs weighed")
    at_set, later = (weight_set_g - tare_g) / eggs_set, (weight_later_g - tare_g) / eggs_later
    if at_set <= 0 or later <= 0:
        raise DataTooThin(
            f"A tare of {tare_g:g} g", "The empty tray weighs less than tray and eggs", "Weigh the empty tray"
        )
    return (at_set - later) / at_set
