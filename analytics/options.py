"""What a question is asked about: the filters that every reading command and page shares."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from analytics.values import Period


@dataclass(frozen=True, slots=True)
class Selection:
    """Which records a question is about; empty tuples mean all.

    Attributes:
        period: by the date of hatch of a batch, both ends included.
        species: species keys.
        pens: pen labels, compared without case and outer blanks.
        incubators: incubator labels, likewise (setter or hatcher).
    """

    period: Period = field(default_factory=lambda: Period(None, None))
    species: tuple[str, ...] = ()
    pens: tuple[str, ...] = ()
    incubators: tuple[str, ...] = ()

    def during(self, period: Period) -> Selection:
        """The same selection in another period."""
        return replace(self, period=period)
