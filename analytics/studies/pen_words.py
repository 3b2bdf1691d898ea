"""Pen against pen in sentences: who stands out and by how much, or what these eggs could have shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.studies.pen_data import PenData
from analytics.studies.pen_judging import Judged
from analytics.studies.pen_records import Finding, PenPair
from analytics.studies.pen_thin import Thin
from analytics.studies.wording import (
    CLUSTERING_ASSUMED,
    MEASURE_NAMES,
    counted,
    listed,
    long_day,
    minus,
    percent,
    percent_range,
)
from analytics.values import Base, Interval

_BATCHES_NAMED = 6
_WITHIN_A_SENTENCE = {
    "saleable_of_set": "share of kept chicks",
    "cull_rate": "share of chicks not kept",
    "shell_loss": "loss in the shell",
    "rotten": "share of rotten eggs",
}


def measure_words(measure: str) -> str:
    """The measure within a sentence."""
    return _WITHIN_A_SENTENCE.get(measure, MEASURE_NAMES[measure].lower())


def owner(label: str, by: str) -> str:
    """`Rowan's`, `line golden's`."""
    name = f"line {label}" if by == "line" else label
    return f"{name}'" if name.endswith("s") else f"{name}'s"


def p_words(p_value: float) -> str:
    """`p = 0.03`."""
    if p_value < 0.001:
        return "p < 0.001"
    return f"p = {p_value:.2f}" if p_value >= 0.0995 else f"p = {p_value:.2g}"


def points(share: float) -> str:
    """A difference of shares in points of percent."""
    size = abs(share) * 100
    text = f"{size:.0f}" if size >= 9.95 else f"{size:.1f}"
    return f"{text} point{'' if text in ('1', '1.0') else 's'}"


def share_words(ends: tuple[float, float]) -> str:
    """`71 %`, or `55–58 %` where clear eggs leave it open."""
    low, high = percent(ends[0]), percent(ends[1])
    return f"{low} %" if low == high else percent_range(Interval(*ends, 1.0, ""))


def base_name(data: PenData) -> Base:
    """What the measure is a share of."""
    return data.groups[0].rate.base


def scope_words(data: PenData) -> str:
    """`Hatched from 3 March 2025 to 31 October 2026: 412 trays of 96 batches.`"""
    first, last = data.hatched()
    trays = counted(len(data.cells.eggs), "tray")
    batches = counted(len(set(data.cells.batch.tolist())), "batch", "batches")
    days = f"from {long_day(first)} to {long_day(last)}" if first < last else f"on {long_day(first)}"
    return f"Hatched {days}: {trays} of {batches}."


def finding_sentence(
    data: PenData, judged: Judged, pen: str, other: str, ends: tuple[tuple[float, float], tuple[float, float]]
) -> str:
    """`Rowan's fertility is below the others: 71 % against 90 % of set less cracked; not explained by …`.

    Args:
        data: the question.
        judged: what was held equal.
        pen: who stands out.
        other: the one it was held against, or "" for several.
        ends: raw rates of the pen and of the others.
    """
    own, rest = ends
    subject = owner(pen, data.by)
    side = "below" if sum(own) < sum(rest) else "above"
    against = owner(other, data.by) if other else "the others"
    return (
        f"{_upper(subject)} {measure_words(data.measure)} is {side} {against}: "
        f"{share_words(own)} against {share_words(rest)} {base_name(data)}; {not_explained(judged)}."
    )


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _held(judged: Judged) -> list[str]:
    """What was held equal besides the batches."""
    return [name for name, is_held in (("machine", judged.machines), ("storage", judged.storage)) if is_held]


def not_explained(judged: Judged) -> str:
    """What was held equal, as what does not explain the difference."""
    return f"not explained by {' or '.join(_held(judged) or ['the batches they were in'])}"


def no_test(data: PenData, reason: Thin) -> str:
    """What is said when there is no test."""
    things = "pens" if data.by == "pen" else "lines"
    if reason.alike:
        return f"No difference between the {things} in {measure_words(data.measure)}. {reason.why}"
    return f"The {things} cannot be compared in {measure_words(data.measure)} here. {reason.why}"


def no_finding(
    data: PenData, judged: Judged, p_value: float, pairs: Sequence[PenPair], smallest: float | None
) -> str:
    """What is said when no pen stands out, by the p-value of the test that decides."""
    things = "pens" if data.by == "pen" else "lines"
    if p_value < 0.05:
        close = next((one for one in sorted(pairs, key=_q) if _q(one) < 0.05), None)
        pair = f" Of the pairs, {close.pen_a} and {close.pen_b} differ most surely." if close else ""
        said = (
            f"The {things} differ in {measure_words(data.measure)} ({p_words(p_value)}), but none stands out "
        )
        return f"{said}from all the others.{pair}"
    said = f"No sure difference between the {things} in {measure_words(data.measure)} ({p_words(p_value)})."
    if smallest is None:
        return said
    if smallest >= 1:
        few = "eggs" if data.by == "pen" else "pens a line"
        return f"{said} These are too few {few} to see even the largest difference."
    seen = "pen" if data.by == "pen" else "line"
    return (
        f"{said} With these eggs a {seen} some {points(smallest)} from the others would have been seen "
        "(80 % power)."
    )


def _q(pair: PenPair) -> float:
    return 1.0 if pair.q_value is None else pair.q_value


def hangs_on_clear(infertile: Sequence[str], none: Sequence[str]) -> str:
    """What is said when pens stand out at one end only of what clear eggs leave open.

    Args:
        infertile: who stands out with all clear eggs infertile.
        none: who does with none infertile.
    """
    if bool(infertile) == bool(none):
        return ""
    named, end = (infertile, "all") if infertile else (none, "none")
    stand = "stands" if len(named) == 1 else "stand"
    return (
        f"It hangs on the clear eggs: with {end} of them infertile {listed(list(named))} {stand} out. "
        "Open clear eggs and read the germinal disc, or open fresh eggs."
    )


def pooled_words(
    data: PenData, independent: HypothesisTest, judged: Judged, plain: HypothesisTest | None
) -> str:
    """Why the pooled eggs see a difference that is not there: machine or storage, or trays and batches."""
    if independent.p_value is None or independent.p_value >= 0.05:
        return ""
    first = f"As if every egg were independent, they would differ ({p_words(independent.p_value)})"
    if plain is not None and plain.p_value is not None and plain.p_value < 0.05:
        held = listed(_held(judged))
        explain = "explains it: without it" if len(_held(judged)) == 1 else "explain it: without them"
        now = p_words(1.0 if judged.clustered.p_value is None else judged.clustered.p_value)
        return f"{first}; {held} {explain} {p_words(plain.p_value)}, held equal {now}."
    if not judged.models[0].stands:
        return f"{first}; but there are too few ways to deal these trays out to the {data.by}s anew to tell."
    if data.by == "line":
        return f"{first}; but pens of one line differ about as much as the lines do."
    return f"{first}; but trays and batches of one pen differ about as much as the pens do."


def why_words(
    data: PenData,
    judged: Judged,
    apart: Sequence[str],
    ends: Sequence[float | None],
    opposite: Mapping[str, bool] | None = None,
) -> str:
    """What the answer rests on, and who is not in it.

    Args:
        data: the question.
        judged: what was held equal.
        apart: why pens cannot be compared.
        ends: p-values with all clear eggs infertile, and with none; one where nothing is open.
        opposite: who stands out -> whether it still would with its clear eggs the opposite of the others'.
    """
    said = [
        _clear_words(data, ends),
        _opposite_words(data, ends, opposite or {}),
        _storage_words(judged),
        _few_words(data),
        _unknown_words(data),
        *apart,
    ]
    return " ".join(part for part in said if part)


def _clear_words(data: PenData, ends: Sequence[float | None]) -> str:
    if len(ends) < 2:
        return ""
    clear = sum(group.rate.clear for group in data.groups)
    told = f"{counted(clear, 'clear egg')} not told apart" if clear else "Unopened eggs may be clear ones"
    seen = [f" ({p_words(p)})" if p is not None else "" for p in ends]
    return f"{told}: tested with all of them infertile{seen[0]} and with none{seen[1]}; the larger p decides."


def _opposite_words(data: PenData, ends: Sequence[float | None], opposite: Mapping[str, bool]) -> str:
    """That all are taken alike, and what becomes of a finding where they are not."""
    if len(ends) < 2:
        return ""
    if not opposite:
        return (
            f"Both times those of all {data.by}s are taken alike. Infertile in one {data.by} and dead early "
            "in another they could show a difference, or hide one: only opening them tells."
        )
    said = [f"Both times those of all {data.by}s are taken alike."]
    for still, how in ((True, "would still stand out"), (False, "would no longer stand out")):
        named = [name for name, stands in opposite.items() if stands == still]
        if named:
            each = "each " if len(named) > 1 else ""
            said.append(
                f"Were those of {listed(named)} {each}the opposite of all others', so that the difference is "
                f"least, {'it' if len(named) == 1 else 'they'} {how}."
            )
    if not all(opposite.values()):
        said.append("Open clear eggs to be sure.")
    return " ".join(said)


def _storage_words(judged: Judged) -> str:
    if judged.storage:
        blank = counted(judged.storage_blank, "tray")
        have = "takes" if judged.storage_blank == 1 else "take"
        return f"{blank} without storage days {have} the mean of the batch." if judged.storage_blank else ""
    if not judged.storage_known:
        return "Storage days are not recorded, so storage is not weighed."
    if judged.storage_blank:
        whole = judged.storage_blank + judged.storage_known
        blank = f"{judged.storage_blank} of {whole} trays"
        return f"Storage days are missing for {blank}, so storage is not weighed."
    return ""


def never_met(labels: Sequence[str], by: str) -> str:
    """A word of caution about those that were never set in one batch with another."""
    if not labels:
        return ""
    was = "was" if len(labels) == 1 else "were"
    them = listed(list(labels))
    return f"{them} {was} never in one batch with another {by}: the season may be in the difference."


def _few_words(data: PenData) -> str:
    if not data.clustering.assumed:
        return ""
    return CLUSTERING_ASSUMED


def _unknown_words(data: PenData) -> str:
    left_out = sum(group.rate.used.left_out for group in data.groups)
    if not left_out:
        return ""
    are = "is" if left_out == 1 else "are"
    return f"{counted(left_out, 'tray')} without the counts that this needs {are} left out."


def worth_sentence(eggs: float, worth: float) -> str:
    """`These 840 eggs tell as much as 310 independent ones.`"""
    return f"These {eggs:,.0f} eggs tell as much as {worth:,.0f} independent ones."


def apart_words(label: str, by: str, alone: bool, machines: Sequence[str], shares: bool) -> str:
    """Why a pen cannot be compared.

    Args:
        label: pen or line.
        by: which.
        alone: whether it is the only one of its species.
        machines: its machines.
        shares: whether another of its species was in one of them.
    """
    name = f"Line {label}" if by == "line" else label
    if alone:
        return f"{name} cannot be compared: there is no other {by} of its species here."
    if not shares:
        went = listed(list(machines))
        return (
            f"{name} cannot be compared: it never shared a machine ({went}) with another {by} of its species."
        )
    return f"{name} cannot be compared: machine and {by} cannot be told apart here."


def pair_sentence(data: PenData, judged: Judged, pair: PenPair, shared: Sequence[str], decides: str) -> str:
    """The difference of two pens, the batches they shared, and what would decide, from `more_words`."""
    first, second = (owner(name, data.by) for name in (pair.pen_a, pair.pen_b))
    if pair.difference is None or pair.low is None or pair.high is None or pair.p_value is None:
        return (
            f"{pair.pen_a} and {pair.pen_b} cannot be compared in {measure_words(data.measure)}. {pair.why}"
        )
    side = "below" if pair.difference < 0 else "above"
    apart = f"{points(pair.difference)} {side}" if abs(pair.difference) >= 0.0005 else "level with"
    said = (
        f"{_upper(first)} {measure_words(data.measure)} is {apart} {second} "
        f"({signed(pair.low)} to {signed(pair.high)}, {p_words(pair.p_value)}); {held_words(judged)}."
    )
    return f"{said} {shared_words(shared)} {decides}"


def signed(share: float) -> str:
    """`−3.2`, `+11`, in points."""
    size = share * 100
    return minus(f"{size:+.0f}" if abs(size) >= 9.95 else f"{size:+.1f}")


def held_words(judged: Judged) -> str:
    """What was held equal."""
    return f"{listed(['batch', *_held(judged)])} held equal"


def shared_words(shared: Sequence[str]) -> str:
    """The batches that two pens had in common."""
    if not shared:
        return "They never shared a batch, so this rests on different batches."
    named = listed(list(shared[:_BATCHES_NAMED]))
    more = f" and {len(shared) - _BATCHES_NAMED} more" if len(shared) > _BATCHES_NAMED else ""
    named = ", ".join(shared[:_BATCHES_NAMED]) if more else named
    return f"They shared {counted(len(shared), 'batch', 'batches')} ({named}{more})."


def more_words(data: PenData, judged: Judged, pair: PenPair, more: int | None, pairs: int) -> str:
    """How many more eggs would decide; a pair out of many is held to all of these."""
    if pair.q_value is not None and pair.q_value < 0.05:
        return "That is decided already."
    if pair.p_value is not None and pair.q_value is not None and pair.p_value < 0.05:
        return (
            "That is sure if you meant these two before you looked; picked out of all "
            f"{pairs} pairs it is not (q = {pair.q_value:.2g})."
        )
    if data.by == "line":
        return "More pens of each line would decide, not more eggs of these."
    if not all(model.stands for model in judged.models):
        return "How many more eggs would decide cannot be worked out: trays of one pen do not differ here."
    if more is None:
        return (
            "That does not show them alike: the range is what these eggs leave open. A difference as small "
            "as the one seen would take more than 100,000 eggs of each to show."
        )
    if more == 0:
        return "A few more eggs would decide if the difference stays as it is."
    have = min(group.rate.eggs_set for group in data.groups if group.label in (pair.pen_a, pair.pen_b))
    times = f", {more / have:.0f} times what they have here" if more >= 2 * have > 0 else ""
    eggs = counted(about(more), "more egg")
    return f"If the difference stays as it is, some {eggs} of each would decide (80 % power){times}."


def about(number: int) -> int:
    """Rounded up to two digits: what is planned for is no exact number."""
    step: int = 10 ** max(len(str(number)) - 2, 0)
    return -(-number // step) * step


def hangs_pair(data: PenData, ends: Sequence[float]) -> str:
    """What is said of two that differ clearly at one end only of what clear eggs leave open.

    Args:
        data: the question.
        ends: p-values with all clear eggs infertile, and with none.
    """
    if len(ends) < 2 or min(ends) >= 0.05 or max(ends) < 0.05:
        return ""
    taken = "infertile" if ends[0] < 0.05 else "dead early"
    clear = counted(sum(group.rate.clear for group in data.groups), "clear egg")
    return (
        f"It hangs on {clear}: had all of theirs been {taken}, they would differ ({p_words(min(ends))}). "
        "Opening clear eggs may decide it sooner than more eggs."
    )


def headline(findings: Sequence[Finding]) -> str:
    """All who stand out."""
    return " ".join(finding.sentence for finding in findings)
