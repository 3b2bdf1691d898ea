"""From a sign to its candidate causes: what this farm's own records say for each, and what against.

The candidates are the rows of `analytics/reference/sign_causes.csv`. Three things order them.

1. The ledger: a group that it finds clear or likely in the sign's step, with that pen or machine, comes
   first; so a machine is never named above a flock finding that is sure.
2. What speaks for a candidate less what speaks against it. Weights are our own choice: 3 where the same
   eggs' fellows clear it, 2 for a clear difference, 1 for a figure beyond the published ones or a weak hint.
3. The order of the table, which is that in which to look.

Other pens in the same machine that do well move a sign from the machine to the flock; other machines that do
as badly in the same weeks move it away from the machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from analytics.incubation.signs_causes import (
    COUNTED,
    EITHER,
    HOT,
    LATER_THAN_HEAT,
    MORE,
    OWN,
    Mechanism,
    mechanism_of,
)
from analytics.incubation.signs_records import (
    Candidate,
    Condition,
    Evidence,
    Facts,
    Placed,
    Share,
)
from analytics.incubation.signs_shares import FEWEST_SEEN, stands_above
from analytics.reference.signs import CandidateCause, Strength, causes_of

MOST_CANDIDATES = 5
FLOCK, HANDLING, INCUBATOR, SHARED = "flock", "handling", "incubator", "shared"
HEAT_LATER, CONTESTED, NOT_APART = "heat_later", "contested", "not_apart"
STRONG, CLEAR, WEAK = 3, 2, 1
_FEW_WORTH = 10.0
"""Independent eggs below which fellows cannot clear anybody (our own choice)."""


class Verdict(StrEnum):
    """How other eggs do beside the place's."""

    FINE = "fine"
    AS_BAD = "as_bad"
    OPEN = "open"


def candidates(facts: Facts) -> tuple[Candidate, ...]:
    """Every candidate of a sign, the likeliest first.

    Args:
        facts: what is known of the sign at its place.
    """
    found = [_candidate(row, facts) for row in causes_of(facts.sign)]
    found = [one for one in found if _is_offered(one)]
    sure = {one.group for one in facts.ledger if one.is_here}
    return tuple(sorted(found, key=lambda one: (one.cause.group not in sure, -one.score)))


def beside(other: Share | None, own: Share, usual: Share | None) -> Verdict:
    """How other eggs do.

    AS_BAD: they stand above the usual ones too. FINE: they do not, and the place's eggs stand above them.
    OPEN: neither, or too few eggs to say.
    """
    if other is None:
        return Verdict.OPEN
    if usual is not None and other.seen >= FEWEST_SEEN and stands_above(other, usual):
        return Verdict.AS_BAD
    if other.worth >= _FEW_WORTH and stands_above(own, other):
        return Verdict.FINE
    return Verdict.OPEN


def _candidate(row: CandidateCause, facts: Facts) -> Candidate:
    mechanism = mechanism_of(row)
    asked = list(_of_conditions(row, mechanism, facts))
    told = [*_of_ledger(row.group, facts), *_of_fellows(row.group, facts), *asked, *_grows(mechanism, facts)]
    return Candidate(
        cause=row,
        for_=tuple(one for speaks_for, one in told if speaks_for),
        against=tuple(one for speaks_for, one in told if not speaks_for),
        missing=tuple(_missing(row, mechanism, facts)),
        notes=tuple(_notes(row, mechanism, facts)),
    )


def _is_offered(one: Candidate) -> bool:
    """A cause with conditions of its own is named only where all of them are met."""
    mechanism = mechanism_of(one.cause)
    if not mechanism.all_needed:
        return True
    met = {evidence.word for evidence in one.for_ if evidence.weight >= CLEAR}
    cleared = any(evidence.code in ("pens_fine", "rest_fine") for evidence in one.for_)
    return cleared and all(word in met for word, _ in mechanism.asks)


def by_ledger(facts: Facts) -> bool:
    """Whether the ledger itself finds the place's loss in the sign's step clear or likely."""
    return any(one.is_place and one.group != SHARED for one in facts.ledger)


def _of_ledger(group: str, facts: Facts) -> Iterator[tuple[bool, Evidence]]:
    for says in facts.ledger:
        if says.is_here and says.group == group:
            yield True, Evidence("ledger", STRONG, says=says)
        elif says.is_here and says.group not in (group, SHARED):
            yield False, Evidence("ledger_other", WEAK, says=says)


def _of_fellows(group: str, facts: Facts) -> Iterator[tuple[bool, Evidence]]:
    """What the same sign elsewhere says of a group."""
    for code, weights, share in _elsewhere(facts):
        weight = weights.get(group, 0)
        if weight:
            yield weight > 0, Evidence(code, abs(weight), share, word=facts.comparisons.worst)


def _elsewhere(facts: Facts) -> Iterator[tuple[str, dict[str, int], Share]]:
    """(code, weight by group, eggs meant) of each comparison that tells something."""
    own, there = facts.own, facts.comparisons
    if facts.placed is Placed.PEN:
        yield from _of_pen(facts)
        return
    rest = beside(there.rest, own, there.usual)
    if there.rest and rest is Verdict.FINE:
        yield "rest_fine", {INCUBATOR: -STRONG, FLOCK: STRONG}, there.rest
    elif there.rest and rest is Verdict.AS_BAD:
        yield "rest_bad", {INCUBATOR: CLEAR, FLOCK: -CLEAR}, there.rest
    weeks = beside(there.other_machines, own, there.usual)
    if there.other_machines and weeks is Verdict.AS_BAD:
        yield "weeks_bad", {INCUBATOR: -STRONG, FLOCK: WEAK, HANDLING: WEAK}, there.other_machines
    elif there.other_machines and weeks is Verdict.FINE:
        yield "weeks_fine", {INCUBATOR: WEAK}, there.other_machines
    pens = beside(there.elsewhere, own, there.usual)
    if there.elsewhere and pens is Verdict.AS_BAD:
        yield "pens_bad_elsewhere", {FLOCK: CLEAR, INCUBATOR: -CLEAR}, there.elsewhere
    elif there.elsewhere and pens is Verdict.FINE:
        yield "pens_fine_elsewhere", {INCUBATOR: CLEAR, FLOCK: -CLEAR}, there.elsewhere


def _of_pen(facts: Facts) -> Iterator[tuple[str, dict[str, int], Share]]:
    own, there = facts.own, facts.comparisons
    if there.usual and beside(there.usual, own, None) is Verdict.FINE:
        yield "pens_fine", {FLOCK: STRONG, INCUBATOR: -STRONG}, there.usual
    rest = beside(there.rest, own, there.usual)
    if there.rest and rest is Verdict.AS_BAD:
        yield "machines_bad", {FLOCK: CLEAR, INCUBATOR: -CLEAR}, there.rest
    elif there.rest and rest is Verdict.FINE:
        yield "machines_fine", {INCUBATOR: CLEAR, FLOCK: -CLEAR}, there.rest


def _of_conditions(
    row: CandidateCause, mechanism: Mechanism, facts: Facts
) -> Iterator[tuple[bool, Evidence]]:
    for word, way in mechanism.asks:
        known = facts.conditions.get(word)
        if known is None or (facts.placed is Placed.PEN and row.group == INCUBATOR):
            continue
        judged = _judged(word, way, known)
        if judged:
            speaks_for, weight, code = judged
            yield speaks_for, Evidence(code, weight, condition=known, word=word)


def _judged(word: str, way: str, known: Condition) -> tuple[bool, int, str] | None:
    """Whether a condition speaks for its cause, how much, and as what."""
    if word in COUNTED:
        if known.own == 0:
            return False, CLEAR, "none_noted"
        if known.is_more or not known.other_batches:
            return True, CLEAR if known.is_more else WEAK, "differs"
        return False, WEAK, "alike"
    more, less = known.is_more, known.is_less
    wanted = (more or less) if way == EITHER else (more if way == MORE else less)
    unwanted = False if way == EITHER else (less if way == MORE else more)
    beyond = known.is_above or known.is_below
    out = beyond if way == EITHER else (known.is_above if way == MORE else known.is_below)
    if wanted:
        return True, CLEAR + (WEAK if out else 0), "differs"
    if unwanted:
        return False, CLEAR, "differs_other_way"
    if out:
        return True, WEAK, "beyond_published"
    if known.low is not None:
        return False, WEAK, "alike"
    return (False, WEAK, "within_published") if known.published_low is not None and not beyond else None


def _grows(mechanism: Mechanism, facts: Facts) -> Iterator[tuple[bool, Evidence]]:
    """Whether the sign itself goes with days stored, or with another feed."""
    there = facts.comparisons
    pair = {"storage": there.stored, "feed": there.fed}.get(mechanism.grows)
    if not pair:
        return
    first, second = pair
    if stands_above(first, second):
        stored = facts.conditions.get("storage_days")
        idle = mechanism.grows == "storage" and stored is not None and not stored.is_more
        weight = WEAK if idle else CLEAR
        yield True, Evidence(f"grows_with_{mechanism.grows}", weight, first, word=there.feed, beside=second)
    elif min(first.worth, second.worth) >= _FEW_WORTH:
        yield False, Evidence(f"not_with_{mechanism.grows}", WEAK, first, word=there.feed, beside=second)


def _missing(row: CandidateCause, mechanism: Mechanism, facts: Facts) -> Iterator[str]:
    if mechanism.no_sheet:
        yield "no_sheet"
    if facts.placed is Placed.PEN and row.group == INCUBATOR:
        return
    for word, _ in mechanism.asks:
        if word not in facts.conditions and f"{OWN}{word}" not in facts.conditions:
            yield word
    if mechanism.grows == "feed" and facts.placed is Placed.PEN and facts.comparisons.fed is None:
        yield "feed"
    if (
        mechanism.grows == "storage"
        and facts.comparisons.stored is None
        and "storage_days" in facts.conditions
    ):
        yield "storage_spread"


def _notes(row: CandidateCause, mechanism: Mechanism, facts: Facts) -> Iterator[str]:
    if mechanism is HOT and facts.sign in LATER_THAN_HEAT:
        yield HEAT_LATER
    if row.strength is Strength.CONTESTED:
        yield CONTESTED
    shared = any(one.group == SHARED and one.is_here for one in facts.ledger)
    if (shared or not facts.is_apart) and row.group != HANDLING:
        yield NOT_APART
