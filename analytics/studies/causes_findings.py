"""A loss that stands out, in a sentence, with what to look at next.

What is said to look at next is common practice, no source. A cause is a candidate: the records say where eggs
were lost, and with whom; why, a look at the birds and the machine must tell.
"""

from __future__ import annotations

from dataclasses import dataclass

from analytics.attribution.findings import Finding
from analytics.attribution.ledger import ItemLine
from analytics.studies.causes_records import HATCH, CauseFinding
from analytics.studies.wording import counted, listed, month_name, whole
from analytics.values import Month

STEP_LOST = {
    "fertile": "were infertile",
    "early": "died early",
    "mid": "died in the middle",
    "late": "died late",
    "shell": "died in the shell",
    HATCH: "did not hatch",
}
"""Step -> what became of the eggs lost in it."""
CLEAR_LOST = "were infertile or clear"
FIRM = {"clear": "", "likely": "Likely: ", "hint": "Only a hint: "}
MISREAD = (
    "A machine or storage does not make eggs infertile: a candidate is very early death read as infertile. "
    "Open fresh eggs of the same days to tell."
)
CHECKS = {
    ("pen", "fertile"): (
        "Look at the male: age, feet, whether he treads all hens. Open a dozen fresh eggs of this pen and "
        "read the germinal disc."
    ),
    ("pen", "early"): "Look at how this pen's eggs are gathered and kept, and at kinship of its parents.",
    (
        "pen",
        "mid",
    ): "Look at the pen's feed, and at kinship of its parents.",
    ("pen", "late"): "Look at this pen's feed and shells; weigh its eggs at setting and transfer.",
    ("pen", "shell"): "Look at this pen's shells and egg size; weigh its eggs at setting and transfer.",
    ("incubator", "early"): "Put a checked thermometer beside the display, at egg height, in the first week.",
    ("incubator", "late"): "Check temperature, turning and water loss of this machine.",
    ("incubator", "shell"): "Check humidity and fresh air at the hatch.",
    ("hatcher", "late"): "Check temperature and turning before the transfer, and the hatcher's temperature.",
    ("hatcher", "shell"): "Check humidity, fresh air and temperature at the hatch.",
    ("storage", "early"): "Set eggs sooner, or keep them cooler and turned while they wait.",
    ("diet", "late"): "Compare with a pen that kept the old feed; weigh eggs at setting and transfer.",
    ("diet", "shell"): "Compare with a pen that kept the old feed; weigh eggs at setting and transfer.",
    ("batch", ""): "Look at what happened to this batch: power, opening, turning, transfer.",
}
"""(factor, step) -> what to look at; "" = any step. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What the sentences must know besides the ledger.

    Attributes:
        first_month: first month that was learnt from, YYYY-MM.
        last_month: the last one.
        months_counted: first and last month that is counted, where not all are; else two "".
        clear: whether clear eggs are among those counted as infertile.
        slopes: (covariate, step) -> mean slope on passing the step, per unit of the covariate.
    """

    first_month: str
    last_month: str
    months_counted: tuple[str, str]
    clear: bool
    slopes: dict[tuple[str, str], float]


def cause_finding(found: Finding, setting: Setting) -> CauseFinding:
    """The finding with its words."""
    item = found.item
    said = f"{FIRM[found.strength]}{_what(item, setting)}: {chicks_words(item.eggs, item.low, item.high)}."
    return CauseFinding(item, found.q_value, found.strength, f"{said[0].upper()}{said[1:]}", check(item))


def chicks_words(eggs: float, low: float, high: float) -> str:
    """`about 51 chicks (20 to 83)`."""
    return f"about {counted(round(eggs), 'chick')} ({between(low, high)})"


def between(low: float, high: float) -> str:
    """`20 to 83`, without a minus before 0."""
    return f"{whole(low)} to {whole(high)}"


def check(item: ItemLine) -> str:
    """What to look at next; "" where nothing is known to."""
    factor = factor_of(item)
    if item.step == "fertile" and factor in ("incubator", "hatcher", "storage", "batch"):
        return MISREAD
    return CHECKS.get((factor, item.step), CHECKS.get((factor, ""), ""))


def factor_of(item: ItemLine) -> str:
    """The factor as a fixed word: the name of a diet is its level."""
    return "diet" if item.factor.startswith("diet ") else item.factor


def level_of(item: ItemLine) -> str:
    """The level, that of a diet its name."""
    return item.factor.removeprefix("diet ") if item.factor.startswith("diet ") else item.level


def lost_words(step: str, setting: Setting) -> str:
    """What became of the eggs lost in a step."""
    return CLEAR_LOST if step == "fertile" and setting.clear else STEP_LOST[step]


def _what(item: ItemLine, setting: Setting) -> str:
    lost, factor, level = lost_words(item.step, setting), factor_of(item), level_of(item)
    when = run_words(item, setting)
    if factor == "pen":
        return f"more of {level}'s eggs {lost} than of a typical pen's{when}"
    if factor in ("sire", "dam"):
        return f"more eggs of the {factor} {level} {lost} than of a typical one{when}"
    if factor in ("incubator", "hatcher"):
        return f"more eggs in {level} {lost} than in a typical machine{when}"
    if factor == "batch":
        return f"more eggs of batch {level} {lost} than of a typical batch"
    if factor == "month":
        return f"more eggs {lost} in {month_name(Month.parse(level))}, whichever their pen and machine"
    if factor == "diet":
        return f'more eggs laid on the diet "{level}" {lost} than on the usual one'
    if factor in ("storage", "hen_age"):
        return _of_number(item, lost, setting)
    return _of_several(item, lost)


def _of_number(item: ItemLine, lost: str, setting: Setting) -> str:
    rises = setting.slopes.get((item.factor, item.step), 0.0) < 0
    if item.factor == "storage":
        return f"more of the eggs stored {'longer' if rises else 'shorter'} {lost}"
    return f"more eggs of {'older' if rises else 'younger'} hens {lost}"


def _of_several(item: ItemLine, lost: str) -> str:
    """What cannot be told apart, by its levels or its names."""
    whose = listed(item.level.split(", ")) if item.level else names_words(item.factor.split(" and "))
    return f"with {whose} together more eggs {lost} (whose of these it is, the records cannot tell)"


def names_words(factors: list[str]) -> str:
    """`storage and month`."""
    return listed([FACTOR_NAMES.get(factor, factor) for factor in factors])


FACTOR_NAMES = {
    "hen_age": "hens' age",
    "incubator": "machine",
    "storage": "days of storage",
    "males_per_female": "males per female",
}
"""Factor -> its name in a sentence, where it is not the word itself."""


def run_words(item: ItemLine, setting: Setting) -> str:
    """` from March 2026 on`, ` in March 2026`, ` from March to May 2026`; "" for always."""
    if not item.first or (item.first, item.last) == (setting.first_month, setting.last_month):
        return ""
    first = month_name(Month.parse(item.first))
    if item.last == setting.last_month and (item.first, item.last) != setting.months_counted:
        return f" from {first} on"
    if item.first == item.last:
        return f" in {first}"
    return f" from {first} to {month_name(Month.parse(item.last))}"
