"""What each cause of the table would leave in the records, so that they can speak for it or against it.

A cause of `analytics/reference/sign_causes.csv` has a mechanism; a mechanism asks conditions, each of which
would be more or less than at the farm's others if it were true. Causes that no sheet can show ask nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from analytics.reference.signs import CandidateCause

MORE, LESS, EITHER = "more", "less", "either"
CONDITIONS = (
    "storage_days", "storage_c", "hen_weeks", "egg_g", "water_loss", "shell_mm", "setter_c", "setter_rh",
    "hatcher_c", "hatcher_rh", "reference_c", "openings", "turner_stops", "power_cuts",
    "days_since_cleaning", "hours", "spread_hours",
)  # fmt: skip
"""Words of what may be known of a place beside its eggs."""
OWN = "own_"
"""Before a condition's word where the condition is the sign itself, and so no evidence."""
COUNTED = ("openings", "turner_stops", "power_cuts")
"""Conditions that are counts of something written down: none of it speaks against."""


@dataclass(frozen=True, slots=True)
class Mechanism:
    """How a cause would show.

    Attributes:
        asks: (condition, way) pairs; way is more, less or either.
        grows: "storage" or "feed" where the sign itself would go with days stored or with the feed.
        no_sheet: whether no record sheet has a place for it.
        all_needed: whether it is offered only where every condition speaks for it.
    """

    asks: tuple[tuple[str, str], ...] = ()
    grows: str = ""
    no_sheet: bool = False
    all_needed: bool = False


_HOT = Mechanism((("setter_c", MORE), ("reference_c", MORE), ("hours", LESS)))
_COOL = Mechanism((("setter_c", LESS), ("reference_c", LESS), ("hours", MORE)))
_OFF = Mechanism((("setter_c", EITHER), ("reference_c", EITHER), ("hours", EITHER)))
_STORED = Mechanism((("storage_days", MORE),), grows="storage")
_CHILLED_STORE = Mechanism((("storage_c", LESS),))
_TURNING = Mechanism((("turner_stops", MORE),))
_FEED = Mechanism(grows="feed")
_OLD = Mechanism((("hen_weeks", MORE),))
_LARGE = Mechanism((("egg_g", MORE),))
_TOO_DRY = Mechanism((("water_loss", MORE), ("setter_rh", LESS)))
_TOO_HUMID = Mechanism((("water_loss", LESS), ("setter_rh", MORE)))
_DIRTY = Mechanism((("days_since_cleaning", MORE),))
_NO_SHEET = Mechanism(no_sheet=True)
_ELSEWHERE = Mechanism()  # kinship, males, ratio: asked of the pens themselves
HOT, THICK_SHELL = _HOT, Mechanism((("shell_mm", MORE), ("water_loss", LESS)), all_needed=True)

MECHANISMS: dict[str, Mechanism] = {
    "too many or too few hens for the male": _ELSEWHERE,
    "age of the hens or of the male": _OLD,
    "condition of the male, feet, vent feathers, disease": _ELSEWHERE,
    "eggs laid too soon after a change of males, or too long after the last": _ELSEWHERE,
    "diet": _FEED,
    "short days, or too little light": _NO_SHEET,
    "infertile, with all its causes": _ELSEWHERE,
    "long or warm storage, death before anything shows": _STORED,
    "eggs chilled": _CHILLED_STORE,
    "too hot at the start": _HOT,
    "fumigation in the first days": _NO_SHEET,
    "stored long, cold or warm": _STORED,
    "rough transport": _NO_SHEET,
    "related parents": _ELSEWHERE,
    "old hens": _OLD,
    "lack of vitamins": _FEED,
    "wrong temperature at the start": _OFF,
    "stored long": _STORED,
    "lack of vitamin A or E": _FEED,
    "too hot or too cold": _OFF,
    "too little air": _NO_SHEET,
    "too little turning": _TURNING,
    "breeder diet, vitamins (riboflavin, pantothenic acid)": _FEED,
    "lethal genes": _ELSEWHERE,
    "too hot": _HOT,
    "infection": _DIRTY,
    "lack of calcium": Mechanism((("shell_mm", LESS),)),
    "lack of vitamin D": Mechanism((("shell_mm", LESS),), grows="feed"),
    "lack of riboflavin or folic acid": _FEED,
    "long storage": _STORED,
    "too humid or too dry on the whole": Mechanism((("water_loss", EITHER), ("setter_rh", EITHER))),
    "too hot, also weeks before": _HOT,
    "too little air in the last days": _NO_SHEET,
    "chilled at the move or in a power cut": Mechanism((("power_cuts", MORE),)),
    "shell too thick and with few pores": THICK_SHELL,
    "hatcher too dry": Mechanism((("hatcher_rh", LESS),)),
    "too little air in the hatcher": _NO_SHEET,
    "too humid in the hatcher": Mechanism((("hatcher_rh", MORE),)),
    "weak chicks of poorly fed hens": _FEED,
    "hatcher opened while chicks pipped": Mechanism((("openings", MORE), ("hatcher_rh", LESS))),
    "lost too much water in the setter": _TOO_DRY,
    "too humid, lost too little water": _TOO_HUMID,
    "too cool": _COOL,
    "large eggs": _LARGE,
    "eggs stored long": _STORED,
    "too hot, or temperature that swings": _HOT,
    "too warm": _HOT,
    "small eggs": Mechanism((("egg_g", LESS),)),
    "large eggs, or eggs of old hens": Mechanism((("egg_g", MORE), ("hen_weeks", MORE))),
    "cold eggs when set, or a machine slow to warm up": _NO_SHEET,
    "high ground, thin air": _NO_SHEET,
    "power cuts": Mechanism((("power_cuts", MORE),)),
    "far too hot": Mechanism((("setter_c", MORE), ("reference_c", MORE))),
    "eggs of mixed size, age or storage": _ELSEWHERE,
    "hot and cold places in the machine": _NO_SHEET,
    "set with the small end up": _NO_SHEET,
    "too little turning, or by too small an angle": _TURNING,
    "too hot for the whole term": _HOT,
    "eggs stored long or chilled": Mechanism((("storage_days", MORE), ("storage_c", LESS)), grows="storage"),
    "jarred on the way": _NO_SHEET,
    "shells with few pores": Mechanism((("water_loss", LESS),)),
    "hatcher too hot": Mechanism((("hatcher_c", MORE),)),
    "contamination": _DIRTY,
    "diet of the hens": _FEED,
    "dirty nests": _NO_SHEET,
    "washed or cracked eggs": _NO_SHEET,
    "eggs that sweated when taken from a cool store": _NO_SHEET,
    "contaminated machine": _DIRTY,
    "lack of riboflavin": _FEED,
    "too hot or too dry": Mechanism((("setter_c", MORE), ("water_loss", MORE))),
    "genes": _ELSEWHERE,
    "lack of biotin (parrot beak)": _FEED,
    "lack of manganese or other parts of the diet": _FEED,
    "slippery floor of the hatching tray": _NO_SHEET,
}
"""Cause, as the table words it -> how it would show."""

STEP_OF = {
    "infertile": "fertile",
    "clear": "fertile",
    "dead_days_1_3": "early",
    "dead_first_week": "early",
    "dead_mid": "mid",
    "dead_late": "late",
    "head_small_end": "late",
    "malposition": "late",
    "malformed": "",
    "pipped": "shell",
    "dry_stuck": "shell",
    "wet_smeared": "shell",
}
"""Sign -> the step of the ladder that its eggs are lost in; "" or missing = none."""
HATCHER_SIGNS = ("dead_late", "pipped", "dry_stuck", "wet_smeared", "navel", "weak", "splay_leg")
"""Signs of the last days: the machine is the hatcher, as in the ledger."""
LATER_THAN_HEAT = ("dead_mid", "dead_late", "pipped", "head_small_end", "malposition", "malformed")
"""Signs that heat of weeks before may leave."""


def mechanism_of(cause: CandidateCause) -> Mechanism:
    """How a cause would show.

    Raises:
        KeyError: a row of the table that nobody has thought about.
    """
    return MECHANISMS[cause.cause]
