"""Signs and what speaks for and against their candidates, in words: codes and numbers in, sentences out."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.incubation.signs import CONTESTED, HEAT_LATER, NOT_APART
from analytics.incubation.signs_records import Candidate, Condition, Evidence, Placed, Share
from analytics.reference.signs import causes_of
from analytics.reference.sources import source_table
from analytics.studies.signs_records import Sign, SignCandidate, SignShare
from analytics.studies.temperatures import heat
from analytics.studies.wording import counted, listed, minus, percent

RULE = (
    "A sign is called seen where at least three eggs show it and their share stands above that of the "
    "farm's others; that eggs of a tray and of a batch are alike is allowed for. Many pens, machines and "
    "batches are looked at, so the level is raised: with nothing the matter, one farm in twenty at most "
    "would show a false sign. A machine or pen must stand out without its worst batch too. A single batch "
    "must lie beyond what batches reach by chance, which only a very bad one does. What the ledger of losses "
    "finds sure or likely is shown as well."
)
ONE_BATCH = "One batch: something to look at, not a finding."
SAID = {
    "infertile": ("were infertile or clear", "of set and not cracked"),
    "dead_days_1_3": ("died on days 1 to 3", "of fertile"),
    "dead_first_week": ("died early", "of fertile"),
    "dead_mid": ("died in the middle", "of those alive until then"),
    "dead_late": ("died late, not pipped", "of those alive until then"),
    "pipped": ("pipped and did not come out", "of those alive until then"),
    "dry_stuck": ("were stuck in a dry membrane", "of those that came to the pip"),
    "head_small_end": ("had the head in the small end", "of full-grown dead eggs opened"),
    "malposition": ("lay in another wrong position", "of full-grown dead eggs opened"),
    "malformed": ("were malformed", "of eggs opened and looked at"),
    "rotten": ("were rotten or burst", "of set"),
    "weak": ("died after the hatch", "of chicks counted later"),
    "splay_leg": ("had splayed legs", "of chicks counted later"),
    "early_hatch": ("were out before half of the others' were", "of chicks in counted batches"),
    "late_hatch": ("came after half of the others' were out", "of chicks in counted batches"),
    "uneven_hatch": ("came far from the middle of their batch", "of chicks in counted batches"),
}
"""Sign -> what became of the eggs, and what they are a share of."""
CHICKS = ("weak", "splay_leg", "early_hatch", "late_hatch", "uneven_hatch")
TOGETHER = {
    "flock": "the flock's causes together",
    "handling": "the causes in handling together",
    "incubator": "the machine's causes together",
}
ONLY_ONE = "The table names one of these causes only for this sign; that is no evidence for it."
NO_COLUMN = ("wet_smeared", "navel", "short_down", "crossed_beak")
"""Signs that the record sheets have no column for."""
_NAMES = {
    "storage_days": ("Storage", "{:.1f} days"),
    "storage_c": ("The store", ""),
    "hen_weeks": ("Age of the hens", "{:.0f} weeks"),
    "egg_g": ("Weight of an egg", "{:.1f} g"),
    "water_loss": ("Water lost by the move", "{:.1f} % of the weight"),
    "shell_mm": ("Thickness of the shell", "{:.3f} mm"),
    "setter_c": ("Air in the setter", ""),
    "setter_rh": ("Humidity in the setter", "{:.0f} %"),
    "hatcher_c": ("Air in the hatcher", ""),
    "hatcher_rh": ("Humidity in the hatcher", "{:.0f} %"),
    "reference_c": ("Reference thermometer", ""),
    "openings": ("Openings between the move and the end", "{:.1f} a batch"),
    "turner_stops": ("Stops of the turner", "{:.1f} a batch"),
    "power_cuts": ("Power cuts", "{:.1f} a batch"),
    "days_since_cleaning": ("Last cleaning", "{:.0f} days before setting"),
    "hours": ("Middle of the hatch, storage taken off", "{:.0f} h"),
    "spread_hours": ("Spread of the hatch", "{:.1f} h"),
}
"""Condition -> its name and how its value is written."""
_HEATS = {"storage_c": 1, "setter_c": 2, "hatcher_c": 2, "reference_c": 2}
"""Temperatures among the conditions -> decimals; in the reader's degrees."""
_WHERE = {
    "storage_days": "days of storage, or laying days (trays)",
    "storage_c": "temperature of the store (trays)",
    "hen_weeks": "when the hens hatched (pens)",
    "egg_g": "weights with the empty tray (trays)",
    "water_loss": "weights at setting and at the move, with the empty tray and the eggs weighed (trays)",
    "shell_mm": "shell samples (shells)",
    "setter_c": "temperature readings (climate)",
    "setter_rh": "humidity readings (climate)",
    "hatcher_c": "temperature readings (climate)",
    "hatcher_rh": "humidity readings from the move on (climate)",
    "reference_c": "a reference thermometer beside the display (checks)",
    "openings": "openings of the machine (incubator_events)",
    "turner_stops": "stops of the turner (incubator_events)",
    "power_cuts": "power cuts (incubator_events)",
    "days_since_cleaning": "cleanings (incubator_events)",
    "hours": "counts while the chicks came out, and the hour of setting (hatch_counts, batches)",
    "spread_hours": "counts while the chicks came out (hatch_counts)",
    "feed": "another feed to compare with (diets)",
    "storage_spread": "trays stored longer and shorter",
}
"""Condition -> what to write down, and in which sheet."""
_NOTHING = {
    "openings": "No opening between the move and the end is written down",
    "turner_stops": "No stop of the turner is written down",
    "power_cuts": "No power cut is written down",
}
SHELL_NOTE = (
    "Only a hypothesis. It is named because shells were measured thick, little water was lost and other pens "
    "in the same batches do better. Studies of quail disagree (Soliman 1994, Saylam 1999), and no trial of "
    "calcium doses found shells too hard to leave (turkeys, 1977)."
)
_NO_SOURCE = "common practice, no source (from memory)"
_NOTES = {
    HEAT_LATER: "Heat can show weeks after it happened (French 2000, turkeys): the week of death need not be "
    "the week of the heat.",
    CONTESTED: "Studies disagree.",
    NOT_APART: "These records cannot tell the pen from the machine here.",
}


def who_words(placed: str) -> str:
    """Whom a place is held against."""
    return {
        Placed.PEN: "other pens in the same batches",
        Placed.INCUBATOR: "other machines",
        Placed.BATCH: "other batches",
    }[Placed(placed)]


def share_words(share: Share | SignShare) -> str:
    """`20 % (17–23 %)`."""
    return f"{percent(share.rate)} % ({percent(share.low)}–{percent(share.high)} %)"


def sign_sentence(level: str, sign: str, own: SignShare, others: SignShare | None, mark: float | None) -> str:
    """`Hazel: 254 of 1,255 eggs were infertile, 20 % (17–23 %) of set; other pens 13 % (12–14 %).`"""
    became, base = SAID[sign]
    what = "chicks" if sign in CHICKS else "eggs"
    said = (
        f"{level}: {own.seen:,.0f} of {own.eggs:,.0f} {what} {became}, {share_words(own)} {base} in "
        f"{counted(own.batches, 'batch', 'batches')}"
    )
    if others:
        said += f"; {others.who} {share_words(others)}"
    elif mark is not None:
        said += f"; published: look further above {percent(mark)} %"
    return f"{said}."


def hours_sentence(level: str, sign: str, own: SignShare, placed: Placed, hours: Condition) -> str:
    """`Slate: hatches 3.4 h earlier than other machines (1.7 to 5.0 h), 32 batches beside 59.`"""
    assert hours.others is not None
    apart = hours.own - hours.others
    way = "less even" if sign == "uneven_hatch" else "later" if apart > 0 else "earlier"
    said = f"{level}: hatches {abs(apart):.1f} h {way} than {who_words(placed)}"
    if hours.low is not None and hours.high is not None:
        ends = sorted((abs(hours.low), abs(hours.high)))
        said += f" ({ends[0]:.1f} to {ends[1]:.1f} h)"
    batches = counted(hours.batches, "batch", "batches")
    became = f"{own.seen:,.0f} of its {own.eggs:,.0f} chicks {SAID[sign][0]} ({percent(own.rate)} %)"
    return f"{said}, {batches} beside {hours.other_batches}, storage allowed for; {became}."


def candidate_words(one: Candidate, placed: Placed) -> SignCandidate:
    """A candidate with its evidence in sentences."""
    sources = source_table()
    row = one.cause
    cited = [sources[name].citation() for name in row.source_ids]
    return SignCandidate(
        cause=row.cause,
        group=row.group,
        for_=_said(one.for_, placed, of_group=False),
        against=_said(one.against, placed, of_group=False),
        group_for=_said(one.for_, placed, of_group=True),
        group_against=_said(one.against, placed, of_group=True),
        next_check=row.next_check,
        source=_NO_SOURCE if row.source_ids == ("from_memory",) else "; ".join(cited),
        source_ids=row.source_ids,
        strength=str(row.strength),
        note=_note(one),
        missing=tuple(missing_words(one.missing)),
    )


def _said(told: Sequence[Evidence], placed: Placed, *, of_group: bool) -> tuple[str, ...]:
    return tuple(_evidence(one, placed) for one in told if one.is_of_group is of_group)


def group_lines(one: Sign, group: str) -> tuple[str, ...]:
    """`For the flock's causes together: …`; what speaks for or against a whole group of candidates."""
    found = tuple(
        f"{word} {TOGETHER[group]}: {text}"
        for word, texts in zip(("For", "Against"), one.said_of(group), strict=True)
        for text in texts
    )
    listed_of_it = sum(row.group == group for row in causes_of(one.sign))
    return (*found, ONLY_ONE) if listed_of_it == 1 and one.said_of(group)[0] else found


def _note(one: Candidate) -> str:
    if one.cause.cause == "shell too thick and with few pores":
        return SHELL_NOTE
    return " ".join(_NOTES[code] for code in one.notes)


def missing_words(words: Sequence[str]) -> list[str]:
    """What to write down that would tell."""
    found = [_WHERE[word] for word in words if word in _WHERE]
    return found + (["no record sheet has a place for it"] if "no_sheet" in words else [])


def _evidence(one: Evidence, placed: Placed) -> str:
    if one.says is not None:
        lead = "The ledger of losses: " if one.code == "ledger" else "The ledger names something else here: "
        return lead + one.says.sentence
    if one.condition is not None:
        return _condition(one, one.condition, placed)
    assert one.share is not None
    return f"{_FELLOWS[one.code].format(word=one.word)}: {_beside(one)}."


_FELLOWS = {
    "rest_fine": "Without {word} its other eggs do well",
    "rest_bad": "It shows without {word} too",
    "weeks_bad": "Other machines in the same weeks show it too",
    "weeks_fine": "Other machines in the same weeks do better",
    "pens_bad_elsewhere": "The same pens show it elsewhere too",
    "pens_fine_elsewhere": "The same pens do better elsewhere",
    "pens_fine": "Other pens in the same batches do better",
    "machines_bad": "It shows outside {word} too",
    "machines_fine": "Outside {word} this pen's eggs do better",
    "grows_with_storage": "Trays stored longer show it more",
    "not_with_storage": "Trays stored longer do not show it surely more",
    "grows_with_feed": "On {word} this pen's eggs show it more than before or after; the season changed too",
    "not_with_feed": "On {word} this pen's eggs do not show it surely more",
}


def _beside(one: Evidence) -> str:
    assert one.share is not None
    said = share_words(one.share)
    return f"{said} against {share_words(one.beside)}" if one.beside else said


def _condition(one: Evidence, known: Condition, placed: Placed) -> str:
    name = _NAMES[one.word][0]
    if one.code == "none_noted":
        return f"{_NOTHING[one.word]} in {counted(known.batches, 'batch', 'batches')}."
    own = _value(one.word, known.own)
    if one.code in ("beyond_published", "within_published"):
        return f"{name}: {own}; published {_published(one.word, known)}."
    who = "samples of other pens of those days" if one.word == "shell_mm" else who_words(placed)
    others = f"{_value(one.word, known.others)} at {who}" if known.others is not None else ""
    said = f"{name}: {own}" + (f" against {others}" if others else "")
    if one.code == "alike":
        return f"{said}, no sure difference."
    beyond = f"; published {_published(one.word, known)}" if known.is_above or known.is_below else ""
    return f"{said}{beyond}."


def _value(word: str, value: float) -> str:
    form = _NAMES[word][1]
    if word in _HEATS:
        return heat(value, _HEATS[word])
    return form.format(value * 100 if word == "water_loss" else value)


def _published(word: str, known: Condition) -> str:
    ends = [_value(word, end) for end in (known.published_low, known.published_high) if end is not None]
    when = "by about the day of the move are " if word == "water_loss" else "are "
    return when + minus(" to ".join(dict.fromkeys(ends)))


def name_of(sign: str) -> str:
    """The sign in words, as its table has it."""
    return causes_of(sign)[0].name


def not_recorded_words(signs: Sequence[str]) -> tuple[str, ...]:
    """What the records do not tell, in sentences."""
    said = []
    if signs:
        names = listed([name_of(sign).lower() for sign in signs])
        said.append(f"Not written down in these records: {names}.")
    columns = listed([name_of(sign).lower() for sign in NO_COLUMN])
    return (*said, f"The record sheets have no column for {columns}; what stands in notes is not read.")
