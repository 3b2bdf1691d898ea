"""From a sign to its candidates: each rule with the evidence for it, and the same sign with the contrary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from analytics.incubation.signs import HEAT_LATER, NOT_APART, Verdict, beside, candidates
from analytics.incubation.signs_causes import CONDITIONS, MECHANISMS
from analytics.incubation.signs_records import (
    Candidate,
    Comparisons,
    Condition,
    Facts,
    LedgerSays,
    Placed,
    Share,
)
from analytics.incubation.signs_shares import limits
from analytics.reference.signs import causes_of, sign_causes_table


def eggs(seen: float, of: float, batches: int = 6) -> Share:
    """A share of independent eggs."""
    low, high = limits(seen / of, of)
    return Share(seen, of, batches, low, high, of)


BAD, USUAL, FINE = eggs(30, 100), eggs(40, 1000), eggs(6, 200)
MORE = Condition(2.0, 0.4, 1.0, 2.2, 6, 20)
LESS = Condition(30.0, 60.0, -40.0, -20.0, 6, 20, 55.0, 80.0)
LITTLE = Condition(0.06, 0.11, -0.07, -0.03, 6, 20)
ALIKE = Condition(60.0, 60.5, -4.0, 3.0, 6, 20, 55.0, 80.0)


def facts(
    sign: str, known: Mapping[str, Condition] | None = None, placed: Placed = Placed.INCUBATOR, **more: object
) -> Facts:
    """A sign at a machine of which nothing else is known."""
    comparisons = Comparisons(usual=USUAL, worst="Rowan", **more)  # type: ignore[arg-type]
    return Facts(sign, placed, "North", BAD, comparisons, dict(known or {}))


def first(given: Facts) -> Candidate:
    return candidates(given)[0]


def place(given: Facts, cause: str) -> int:
    return [one.cause.cause for one in candidates(given)].index(cause)


def the(given: Facts, cause: str) -> Candidate:
    return next(one for one in candidates(given) if one.cause.cause == cause)


def test_every_cause_of_the_table_has_a_mechanism_with_known_conditions() -> None:
    assert {row.cause for row in sign_causes_table()} == set(MECHANISMS)
    assert {word for one in MECHANISMS.values() for word, _ in one.asks} <= set(CONDITIONS)


def test_openings_and_low_humidity_lead_dry_chicks_and_their_contrary_leads_elsewhere() -> None:
    opened, dry = "hatcher opened while chicks pipped", "hatcher too dry"
    shut = Condition(0.0, 0.4, -0.9, 0.1, 6, 20)
    given = facts("dry_stuck", {"openings": MORE, "hatcher_rh": LESS, "water_loss": ALIKE})
    assert [one.cause.cause for one in candidates(given)[:2]] == [opened, dry]
    # opened oftener 2; drier than the others 2, and below what is published 1
    assert [one.score for one in candidates(given)[:2]] == [5, 3]
    assert first(facts("dry_stuck", {"openings": shut, "hatcher_rh": LESS})).cause.cause == dry
    neither = facts("dry_stuck", {"openings": shut, "hatcher_rh": ALIKE})
    for cause in (dry, opened):
        assert the(neither, cause).score < 0 < the(given, cause).score
    assert place(facts("dry_stuck", {"water_loss": MORE}), "lost too much water in the setter") == 0


def test_other_pens_in_that_machine_that_do_well_move_the_sign_to_the_flock() -> None:
    heat = {"setter_c": Condition(38.4, 37.6, 0.5, 1.1, 6, 20)}
    assert first(facts("dead_late", heat, rest=eggs(60, 200))).cause.group == "incubator"
    moved = facts("dead_late", heat, rest=FINE)
    assert first(moved).cause.group == "flock"
    assert the(moved, "too hot, also weeks before").score < 0
    assert {one.code for one in the(moved, "too hot, also weeks before").against} == {"rest_fine"}


def test_other_machines_as_bad_in_the_same_weeks_move_it_away_from_the_machine() -> None:
    heat = {"setter_c": Condition(38.4, 37.6, 0.5, 1.1, 6, 20)}
    assert first(facts("dead_mid", heat, other_machines=FINE)).cause.cause == "too hot"
    moved = facts("dead_mid", heat, other_machines=eggs(60, 200))
    assert first(moved).cause.group != "incubator"
    assert "weeks_bad" in {one.code for one in the(moved, "too hot").against}


def test_the_same_pens_elsewhere_tell_flock_from_machine() -> None:
    assert first(facts("dead_late", elsewhere=eggs(60, 200))).cause.group == "flock"
    assert first(facts("dead_late", elsewhere=FINE)).cause.group == "incubator"


def test_a_pen_that_is_bad_in_every_machine_is_not_the_machines() -> None:
    given = facts("dead_late", placed=Placed.PEN, rest=eggs(30, 100))
    assert first(given).cause.group == "flock"
    assert {"pens_fine", "machines_bad"} <= {one.code for one in first(given).for_}
    machines = [one for one in candidates(given) if one.cause.group == "incubator"]
    assert all(one.score < 0 for one in machines)
    # in one machine only: that speaks against the flock
    only_there = facts("dead_late", placed=Placed.PEN, rest=FINE)
    assert "machines_fine" in {one.code for one in the(only_there, "related parents").against}


@pytest.mark.parametrize(
    ("sign", "word", "known", "cause"),
    [
        ("pipped", "hatcher_rh", LESS, "hatcher too dry"),
        ("wet_smeared", "water_loss", LITTLE, "too humid, lost too little water"),
        ("early_hatch", "reference_c", Condition(38.5, 37.6, 0.6, 1.2, 6, 20), "too warm"),
        ("late_hatch", "setter_c", Condition(36.8, 37.6, -1.2, -0.4, 6, 20), "too cool"),
        ("late_hatch", "power_cuts", MORE, "power cuts"),
        ("malposition", "turner_stops", MORE, "too little turning"),
        ("rotten", "days_since_cleaning", Condition(90.0, 20.0, 50.0, 90.0, 6, 20), "contaminated machine"),
        ("early_hatch", "egg_g", Condition(9.0, 12.0, -4.0, -2.0, 6, 20), "small eggs"),
        ("splay_leg", "setter_c", Condition(38.4, 37.6, 0.5, 1.1, 6, 20), "too hot"),
        ("dead_late", "shell_mm", Condition(0.14, 0.16, -0.03, -0.01, 6, 6), "lack of calcium"),
    ],
)  # fmt: skip
def test_a_condition_lifts_its_cause_and_the_opposite_sinks_it(
    sign: str, word: str, known: Condition, cause: str
) -> None:
    assert first(facts(sign, {word: known})).cause.cause == cause
    assert known.low is not None
    assert known.high is not None
    assert known.others is not None
    turned = replace(known, own=2 * known.others - known.own, low=-known.high, high=-known.low,
                     published_low=None, published_high=None)  # fmt: skip
    sunk = facts(sign, {word: turned})
    assert the(sunk, cause).score < 0
    assert first(sunk).cause.cause != cause


def test_storage_speaks_only_where_the_place_was_stored_longer() -> None:
    stored = (eggs(40, 100), eggs(10, 100))
    longer = Condition(9.0, 4.0, 3.0, 7.0, 6, 20)
    given = facts("dead_first_week", {"storage_days": longer}, stored=stored)
    assert first(given).cause.cause == "stored long"
    no_longer = facts("dead_first_week", {"storage_days": replace(longer, own=4.1, low=-1.0, high=1.2)},
                      stored=stored)  # fmt: skip
    assert the(no_longer, "stored long").score < the(given, "stored long").score
    flat = facts("dead_first_week", {"storage_days": longer}, stored=(eggs(20, 100), eggs(20, 100)))
    assert "not_with_storage" in {one.code for one in the(flat, "stored long").against}


def test_a_sure_flock_loss_of_the_ledger_stands_above_the_machine() -> None:
    heat = {"setter_c": Condition(38.4, 37.6, 0.5, 1.1, 6, 20)}
    given = facts("dead_late", heat, other_machines=FINE, elsewhere=FINE)
    assert first(given).cause.group == "incubator"
    flock = LedgerSays("flock", "pen", "Rowan", "late", "likely", is_here=True)
    groups = [one.cause.group for one in candidates(replace(given, ledger=(flock,)))]
    assert groups.index("incubator") > max(at for at, group in enumerate(groups) if group == "flock")
    away = replace(flock, is_here=False)
    assert first(replace(given, ledger=(away,))).cause.group == "incubator"
    machine = LedgerSays("incubator", "incubator", "North", "late", "clear", is_here=True)
    assert first(replace(given, ledger=(machine,))).cause.group == "incubator"


def test_a_thick_shell_is_named_only_with_all_its_conditions() -> None:
    thick = {"shell_mm": Condition(0.18, 0.16, 0.01, 0.03, 6, 6),
             "water_loss": Condition(0.08, 0.11, -0.04, -0.02, 9, 9)}  # fmt: skip
    cause = "shell too thick and with few pores"

    def named(known: Mapping[str, Condition], **more: object) -> bool:
        given = facts("pipped", known, Placed.PEN, **more)
        return cause in [one.cause.cause for one in candidates(given)]

    assert named(thick)
    for word in thick:
        assert not named({name: one for name, one in thick.items() if name != word})
        assert not named({**thick, word: replace(thick[word], low=-0.5, high=0.5)})
    # other pens of the same batches as bad: not the shells of this pen
    comparisons = Comparisons(usual=eggs(300, 1000))
    given = Facts("pipped", Placed.PEN, "Rowan", BAD, comparisons, thick)
    assert cause not in [one.cause.cause for one in candidates(given)]


def test_heat_is_said_to_show_later_and_what_cannot_be_told_apart_is_said() -> None:
    given = facts("dead_late")
    assert HEAT_LATER in the(given, "too hot, also weeks before").notes
    assert HEAT_LATER not in the(given, "too little turning").notes
    apart = replace(given, is_apart=False)
    assert all((NOT_APART in one.notes) == (one.cause.group != "handling") for one in candidates(apart))


def test_what_is_not_recorded_is_listed_and_never_counted() -> None:
    for row in sign_causes_table():
        one = the(facts(row.sign), row.cause) if row.cause != "shell too thick and with few pores" else None
        if one is not None:
            assert (one.for_, one.against) == ((), ())
    assert the(facts("dry_stuck"), "hatcher too dry").missing == ("hatcher_rh",)
    assert the(facts("pipped"), "too little air in the hatcher").missing == ("no_sheet",)


def test_without_any_evidence_the_order_is_that_of_the_table() -> None:
    for sign in ("late_hatch", "dry_stuck", "rotten", "infertile"):
        assert [one.cause for one in candidates(facts(sign))] == list(causes_of(sign))


def test_too_few_fellows_clear_nobody() -> None:
    assert beside(eggs(0, 5), BAD, USUAL) is Verdict.OPEN
    assert beside(eggs(1, 50), BAD, USUAL) is Verdict.FINE
    assert beside(eggs(30, 60), BAD, USUAL) is Verdict.AS_BAD
    assert beside(None, BAD, USUAL) is Verdict.OPEN
