"""What must hold between rows, as data, over all rows as they would be after the load.

A rule is checked when one of its sheets is loaded, and reported at the first of its places that is: so a
corrected batch that makes an old tray impossible is named too. Texts between braces are SQL.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from analytics.sheets.contract import OUTCOMES
from analytics.sheets.keys import quoted, short_times_sql
from analytics.sheets.rules import IN_STORE, LOOK_AT_BOTH, earlier


@dataclass(frozen=True, slots=True)
class Place:
    """Where a rule between rows may be reported.

    Attributes:
        sheet: the sheet.
        record: SQL of the record; NULL when that row is not loaded.
        columns: the columns named.
    """

    sheet: str
    record: str
    columns: str


@dataclass(frozen=True, slots=True)
class CrossRule:
    """A rule between rows.

    Attributes:
        places: where it may be reported; the first that is loaded counts.
        source: SQL after FROM; a sheet is `all_<sheet>`.
        broken: SQL condition under which it is broken.
        given: what stands there, with SQL between braces.
        rule: the rule.
        repair: how to mend it.
        warning: whether it is only a warning.
    """

    places: tuple[Place, ...]
    source: str
    broken: str
    given: str
    rule: str
    repair: str = LOOK_AT_BOTH
    warning: bool = False

    def given_sql(self) -> str:
        """SQL of the text of what stands there; what is NULL is left out."""
        parts = re.split(r"\{(.*?)\}", self.given)
        pieces = [part if number % 2 else f"'{part}'" for number, part in enumerate(parts) if part]
        return short_times_sql(f"concat({', '.join(pieces)})")


def _stored(record: str) -> str:
    """Said after what does not stand in the file: its row comes from the store."""
    return f"{{CASE WHEN {record} IS NULL THEN '{IN_STORE}' END}}"


_TRAY_AND_BATCH = "all_trays t JOIN all_batches b ON b.batch = t.batch"
_WHICH_TRAY = "tray {t.tray} of batch {t.batch}: "
_SET = "set on {b.set_on}" + _stored("b.record")
_HERE = _stored("t.record")


def _tray_time(column: str, broken: str, rule: str) -> CrossRule:
    return CrossRule(
        (Place("trays", "t.record", column), Place("batches", "b.record", "set_on")),
        _TRAY_AND_BATCH,
        broken,
        f"{_WHICH_TRAY}{column} {{t.{column}}}{_HERE}, {_SET}",
        rule,
    )


def _laid_before_set(column: str) -> CrossRule:
    return _tray_time(column, f"t.{column} > CAST(b.set_on AS DATE)", "Eggs are laid before they are set")


def _after_set(column: str, what: str) -> CrossRule:
    return _tray_time(column, earlier(f"t.{column}", "b.set_on"), f"Eggs are {what} after they were set")


_STORAGE = CrossRule(
    (Place("trays", "t.record", "storage_days, laid_from, laid_to"), Place("batches", "b.record", "set_on")),
    _TRAY_AND_BATCH,
    "abs(t.storage_days - (date_diff('day', coalesce(t.laid_from, t.laid_to), CAST(b.set_on AS DATE))"
    " + date_diff('day', coalesce(t.laid_to, t.laid_from), CAST(b.set_on AS DATE))) / 2) > 1",
    _WHICH_TRAY
    + "storage_days {t.storage_days}, laid {concat_ws(' to ', t.laid_from, t.laid_to)}"
    + _HERE
    + ", "
    + _SET,
    "storage_days counts from the middle of the laying days to the setting, to within a day",
    "Look which is right: storage_days counts for storage, the laying days for the pen",
    warning=True,
)


def _sex(sheet: str, role: str) -> CrossRule:
    sex, right, wrong = ("m", "male", "female") if role == "sire" else ("f", "female", "male")
    return CrossRule(
        (Place(sheet, "c.record", role), Place("birds", "p.record", "sex")),
        f"all_{sheet} c JOIN all_birds p ON p.bird = c.{role}",
        f"p.sex <> '{sex}'",
        f"the {role} {{c.{role}}}{_stored('c.record')}, who is {wrong}{_stored('p.record')}",
        f"A {role} is {right}",
        "Name another bird, or mend the sex of this one in birds",
    )


def _parent_is_older(role: str) -> CrossRule:
    return CrossRule(
        (Place("birds", "c.record", role), Place("birds", "p.record", "hatched_on")),
        f"all_birds c JOIN all_birds p ON p.bird = c.{role}",
        "p.hatched_on >= c.hatched_on AND p.bird <> c.bird",
        f"{{c.bird}} hatched on {{c.hatched_on}}{_stored('c.record')},"
        f" its {role} {{p.bird}} on {{p.hatched_on}}{_stored('p.record')}",
        f"A {role} hatched before its young",
    )


def _last_day(alias: str) -> str:
    return f"coalesce({alias}.\"to\", DATE '9999-12-31')"


def _stay(alias: str) -> str:
    last = f"{{coalesce(' to ' || {alias}.\"to\", ' on')}}"
    return f'{{{alias}.pen}} from {{{alias}."from"}}{last}{_stored(f"{alias}.record")}'


_ONE_PEN = CrossRule(
    (Place("pen_birds", "x.record", "from, to"), Place("pen_birds", "y.record", "from, to")),
    "all_pen_birds x JOIN all_pen_birds y ON x.bird = y.bird AND x.pen <> y.pen",
    f'x."from" <= {_last_day("y")} AND y."from" <= {_last_day("x")}'
    ' AND (x."from" > y."from" OR (x."from" = y."from" AND x.pen > y.pen))',
    f"{{x.bird}} in {_stay('y')}, and in {_stay('x')}",
    "A bird is in one pen at a time; a stay includes its first and its last day",
    "End the earlier stay on the day before the later one begins",
)

_COUNTS_IN_ORDER = (
    "(SELECT record, batch, tray, out_so_far, lag(out_so_far) OVER w AS before_out,"
    " lag(record) OVER w AS before_record, lag(counted_at) OVER w AS before_at FROM all_hatch_counts"
    " WINDOW w AS (PARTITION BY batch, tray ORDER BY counted_at))"
)
_BATCH_OUT = (
    "(SELECT batch, sum(eggs_set) AS eggs_set,"
    " CASE WHEN count(*) = count(hatched) THEN sum(hatched + coalesce(culled, 0)) END AS out"
    " FROM all_trays GROUP BY batch)"
)
_COUNTED_TRAYS = "all_hatch_counts x JOIN all_trays t ON t.batch = x.batch AND t.tray = x.tray"
_COUNTED_BATCHES = f"all_hatch_counts x JOIN {_BATCH_OUT} t ON t.batch = x.batch AND x.tray IS NULL"
_COUNT = Place("hatch_counts", "x.record", "out_so_far")
_OUT = "t.hatched + coalesce(t.culled, 0)"
_OUT_IS_COUNTED = "Chicks that came out are hatched or culled"
_NO_MORE_THAN_SET = "No more chicks come out than eggs were set"

_HATCH_COUNTS = (
    CrossRule(
        (_COUNT, Place("hatch_counts", "x.before_record", "out_so_far")),
        f"{_COUNTS_IN_ORDER} x",
        "x.out_so_far < x.before_out",
        "{x.out_so_far} out"
        + _stored("x.record")
        + ", after {x.before_out} at {x.before_at}"
        + _stored("x.before_record"),
        "Chicks out so far never become fewer",
        "Count all chicks that came out, those taken away too",
    ),
    CrossRule(
        (Place("hatch_counts", "x.record", "counted_at"), Place("batches", "b.record", "set_on")),
        "all_hatch_counts x JOIN all_batches b ON b.batch = x.batch",
        earlier("x.counted_at", "b.set_on"),
        f"batch {{x.batch}}: counted at {{x.counted_at}}{_stored('x.record')}, {_SET}",
        "Chicks are counted after the eggs were set",
    ),
    CrossRule(
        (_COUNT, Place("trays", "t.record", "eggs_set")),
        _COUNTED_TRAYS,
        "x.out_so_far > t.eggs_set",
        _WHICH_TRAY + "{x.out_so_far} out" + _stored("x.record") + ", eggs_set {t.eggs_set}" + _HERE,
        _NO_MORE_THAN_SET,
    ),
    CrossRule(
        (_COUNT,),
        _COUNTED_BATCHES,
        "x.out_so_far > t.eggs_set",
        "batch {x.batch}: {x.out_so_far} out, eggs_set {t.eggs_set} in its trays",
        _NO_MORE_THAN_SET,
    ),
    CrossRule(
        (_COUNT, Place("trays", "t.record", "hatched, culled")),
        _COUNTED_TRAYS,
        f"x.out_so_far > {_OUT}",
        f"{_WHICH_TRAY}{{x.out_so_far}} out{_stored('x.record')}, hatched and culled {{{_OUT}}}{_HERE}",
        _OUT_IS_COUNTED,
        warning=True,
    ),
    CrossRule(
        (_COUNT,),
        _COUNTED_BATCHES,
        "x.out_so_far > t.out",
        "batch {x.batch}: {x.out_so_far} out, hatched and culled {t.out} in its trays",
        _OUT_IS_COUNTED,
        warning=True,
    ),
)

_CANDLED_TRAYS = "all_candlings x JOIN all_trays t ON t.batch = x.batch AND t.tray = x.tray"
_CANDLINGS = (
    CrossRule(
        (Place("candlings", "x.record", "on"), Place("batches", "b.record", "set_on")),
        f"{_CANDLED_TRAYS} JOIN all_batches b ON b.batch = x.batch",
        earlier('x."on"', "b.set_on"),
        f'{_WHICH_TRAY}candled on {{x."on"}}' + _stored("x.record") + ", " + _SET,
        "Eggs are candled after they were set",
    ),
    CrossRule(
        (Place("candlings", "x.record", "eggs"), Place("trays", "t.record", "eggs_set")),
        _CANDLED_TRAYS,
        "x.eggs > t.eggs_set",
        _WHICH_TRAY + "{x.eggs} eggs looked at" + _stored("x.record") + ", eggs_set {t.eggs_set}" + _HERE,
        "No more eggs are looked at than were set",
    ),
)


def _opened(by: str, where: str = "TRUE") -> str:
    eggs = f"SELECT {by}, max(record) AS record, count(*) AS opened FROM all_opened_eggs"  # noqa: S608
    return f"({eggs} WHERE {where} GROUP BY {by}) o JOIN all_trays t ON t.batch = o.batch AND t.tray = o.tray"


def _opened_class(name: str) -> CrossRule:
    return CrossRule(
        (Place("opened_eggs", "o.record", "class"), Place("trays", "t.record", name)),
        _opened('batch, tray, "class"'),
        f"o.\"class\" = '{name}' AND o.opened > t.{quoted(name)}",
        f"{_WHICH_TRAY}{{o.opened}} {name} in opened_eggs{_stored('o.record')},"
        f" {name} {{t.{quoted(name)}}} in trays{_HERE}",
        "No more eggs of a class are opened than the tray counts",
        f"Mend {name} in trays, or the class of the eggs",
    )


_OPENED = CrossRule(
    (
        Place("opened_eggs", "o.record", "egg"),
        Place("trays", "t.record", "eggs_set, hatched, culled, cracked"),
    ),
    "(SELECT batch, tray, max(record) AS record, count(*) AS opened, "
    "count(*) FILTER (\"class\" = 'cracked') AS cracked FROM all_opened_eggs "
    "WHERE \"class\" NOT IN ('hatched', 'culled') GROUP BY batch, tray) o "
    "JOIN all_trays t ON t.batch = o.batch AND t.tray = o.tray",
    "o.opened - o.cracked + coalesce(t.cracked, o.cracked) + coalesce(t.hatched, 0) + coalesce(t.culled, 0) "
    "> t.eggs_set",
    _WHICH_TRAY
    + "{o.opened} unhatched eggs opened"
    + _stored("o.record")
    + ", {concat('hatched ' || t.hatched || ', ')}"
    + "{concat('culled ' || t.culled || ', ')}{concat('cracked ' || t.cracked || ', ')}eggs_set {t.eggs_set}"
    + _HERE,
    "No more eggs are opened than did not hatch",
    "Look for an egg counted twice",
)

_CHICKS = CrossRule(
    (Place("chicks", "x.record", "alive, dead"), Place("trays", "t.record", "hatched, culled")),
    "all_chicks x JOIN all_trays t ON t.batch = x.batch AND t.tray = x.tray",
    f"coalesce(x.alive, 0) + coalesce(x.dead, 0) > {_OUT}",
    _WHICH_TRAY
    + "{concat_ws(', ', 'alive ' || x.alive, 'dead ' || x.dead)}"
    + _stored("x.record")
    + f", hatched and culled {{{_OUT}}}{_HERE}",
    "A tray has no more chicks than hatched",
    warning=True,
)

CROSS_RULES: tuple[CrossRule, ...] = (
    _laid_before_set("laid_to"),
    _laid_before_set("laid_from"),
    _after_set("candled_on", "candled"),
    _after_set("opened_on", "opened"),
    _after_set("weighed_on", "weighed the second time"),
    _STORAGE,
    *(_sex(sheet, role) for sheet in ("trays", "birds") for role in ("sire", "dam")),
    _parent_is_older("sire"),
    _parent_is_older("dam"),
    _ONE_PEN,
    *_HATCH_COUNTS,
    *_CANDLINGS,
    *(_opened_class(name) for name in OUTCOMES),
    _OPENED,
    _CHICKS,
)
"""Every rule between rows, but for names (`references`) and descent (`pedigree`)."""
