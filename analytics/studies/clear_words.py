"""What clear eggs are, in words."""

from __future__ import annotations

from analytics.measures.clear_records import ClearInformed, ClearShare, ClearSplit, FreshAdvice
from analytics.studies.wording import counted, listed, percent


def clears_sentence(split: ClearSplit) -> str:
    """What the clear eggs probably were, and what would tell; "" without a clear egg."""
    share = split.whole
    clear = round(share.clear)
    if clear < 1:
        return ""
    eggs = counted(clear, "clear egg")
    if split.informed.silent:
        said = f"Nothing in these records tells infertile from very early dead: the {eggs} may be either."
    else:
        likely = "was" if _span(share) == "1" else "were"
        said = (
            f"By {_told_by(split.informed)}, {_span(share)} of {eggs} {likely} probably infertile, "
            f"and fertility was {_fertility(share)}."
        )
    return f"{said} {advice_words(split.advice)}".rstrip()


def advice_words(advice: FreshAdvice) -> str:
    """How many fresh eggs would tell the fertility; "" where it is known well enough."""
    if not advice.eggs:
        return ""
    points = percent(advice.within)
    return f"Opening about {advice.eggs} fresh eggs would tell fertility to {points} points either way."


def _told_by(informed: ClearInformed) -> str:
    told = {
        "the days of storage": informed.storage_spread >= 1,
        "fresh eggs opened": informed.fresh_eggs > 0,
        "eggs opened early": informed.early_opened > 0,
    }
    return listed([words for words, tells in told.items() if tells])


def _span(share: ClearShare) -> str:
    low, high = round(share.infertile_low), round(share.infertile_high)
    return f"{low}" if low == high else f"{low} to {high}"


def _fertility(share: ClearShare) -> str:
    return f"{percent(share.fertility_low)}–{percent(share.fertility_high)} %"
