"""Whose loss it is, as plain text for a terminal: the answer, the parts, the steps, what stands out."""

from __future__ import annotations

from analytics.reports.month_text import paragraph, table
from analytics.studies.causes_findings import between
from analytics.studies.causes_records import HATCH, Causes, CausesAnswer, NotApart
from analytics.studies.causes_words import said_plainly
from analytics.studies.pen_words import p_words
from analytics.studies.wording import STRENGTHS, percent, selection_words, species_words, whole

GROUP_NAMES = {
    "flock": "flock",
    "handling": "handling",
    "incubator": "incubator",
    "season": "season",
    "farms": "what sets farms apart",
    "shared": "not to be told apart",
    "baseline": "usual hatch, beside the mark",
    "chance": "chance",
}
STEP_NAMES = {
    "fertile": "infertile or clear",
    "early": "died early",
    "mid": "died in the middle",
    "late": "died late",
    "shell": "died in the shell",
    HATCH: "did not hatch",
}


def causes_text(found: Causes) -> str:
    """Everything, species by species."""
    said = selection_words(found.selection)
    parts = [paragraph(said)] if said else []
    for answer in found.answers:
        parts += _answer(answer)
    parts += [paragraph(f"{species_words(one.species).upper()}: {one.why}") for one in found.without]
    return "\n\n".join(parts) + "\n"


def _answer(answer: CausesAnswer) -> list[str]:
    words = answer.words
    points = "\n".join(paragraph(f"- {text}") for text in words.points)
    parts = [species_words(answer.species).upper(), paragraph(words.sentence), *([points] if points else [])]
    parts.append(paragraph(f"The mark: {answer.mark.source}."))
    parts += ["WHOSE LOSS IT IS, in chicks", _groups(answer)]
    parts += ["WHERE THE EGGS WERE LOST", _steps(answer)]
    parts += ["WHAT STANDS OUT, candidates, the strongest first", *_findings(answer)]
    if answer.cannot_separate:
        parts += ["WHAT CANNOT BE TOLD APART", *(_apart(one) for one in answer.cannot_separate)]
    parts += [paragraph(text) for text in (words.clears, words.caution) if text]
    parts += ["HOW THIS WAS MADE", paragraph(words.fitted)]
    return parts + [paragraph(f"- {text}") for text in (*words.doubts, *words.left_out)]


def _groups(answer: CausesAnswer) -> str:
    rows = [
        (
            GROUP_NAMES[line.group],
            whole(line.eggs),
            between(line.low, line.high),
            f"{percent(line.probability_positive)} %",
        )
        for line in answer.groups
    ]
    rows.append(("together: short of the mark", whole(answer.shortfall), "counted", ""))
    return table(("part", "chicks lost", "95 % range", "a loss at all"), rows)


def _steps(answer: CausesAnswer) -> str:
    rows = [
        (
            STEP_NAMES[line.step],
            f"{line.entering:,.0f}",
            f"{line.lost:,.0f}",
            f"{line.expected_lost:,.0f}",
            f"{percent(line.lost / line.entering) if line.entering else '-'} %",
        )
        for line in answer.steps
    ]
    return table(("step", "eggs entering", "lost", "typical trays would lose", "lost of entering"), rows)


def _findings(answer: CausesAnswer) -> list[str]:
    if not answer.findings:
        return [paragraph("Nothing stands out by itself.")]
    said = []
    for one in answer.findings:
        chance = p_words(one.item.p_value)
        sure = p_words(one.q_value).replace("p ", "q ", 1)
        said.append("\n".join([
            paragraph(f"- {said_plainly(one)} ({STRENGTHS[one.strength]}; {chance}, {sure})"),
            *([paragraph(f"Next: {one.check}", "  ")] if one.check else []),
        ]))  # fmt: skip
    return said


def _apart(one: NotApart) -> str:
    chicks = ""
    if one.eggs is not None and one.low is not None and one.high is not None:
        chicks = f" Together {whole(one.eggs)} chicks ({between(one.low, one.high)})."
    return "\n".join((paragraph(f"- {one.why}{chicks}"), paragraph(f"Next: {one.next_step}", "  ")))
