"""The record sheets as data: every sheet, column, type, key and reference, in one place.

Reading, checking, loading, blank sheets, exports and the tests of the schema all follow this table.
The order of SHEETS is the order of loading: what is referred to comes first.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Kind(StrEnum):
    """What a cell holds. `sql` gives the store's type."""

    LABEL = "label"  # the breeder's own name for something; compared without case and outer blanks
    TEXT = "text"
    DAY = "day"  # ISO date
    MOMENT = "moment"  # ISO date or date with time; midnight = the hour was not written down
    COUNT = "count"  # whole, 0 or more
    WHOLE = "whole"  # whole, 1 or more
    NUMBER = "number"
    SHARE = "share"  # 0..1
    YES_NO = "yes_no"

    @property
    def sql(self) -> str:
        """The DuckDB type of a column of this kind."""
        return _SQL[self]


_SQL = {
    Kind.LABEL: "VARCHAR", Kind.TEXT: "VARCHAR", Kind.DAY: "DATE", Kind.MOMENT: "TIMESTAMP",
    Kind.COUNT: "INTEGER", Kind.WHOLE: "INTEGER", Kind.NUMBER: "DOUBLE", Kind.SHARE: "DOUBLE",
    Kind.YES_NO: "BOOLEAN",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet.

    Attributes:
        name: heading.
        kind: what a cell holds.
        note: what it means, with its unit; shown in blank sheets.
        required: whether a cell may not be blank.
        refers_to: sheet whose key label this must name, or "".
        choices: the only words allowed (lower case), or ().
        low: smallest number allowed, or None.
        high: largest number allowed, or None.
    """

    name: str
    kind: Kind
    note: str
    required: bool = False
    refers_to: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One record sheet.

    Attributes:
        name: file or worksheet name, and table name in the store.
        row_is: what one row is.
        columns: in the order of the blank sheet.
        key: columns that name a row; a blank key column that is not required counts as "".
    """

    name: str
    row_is: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    by_name: dict[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {column.name: column for column in self.columns})


K = Kind
OUTCOMES = (
    "hatched", "culled", "infertile", "clear", "early_dead", "mid_dead", "late_dead",
    "internal_pip", "external_pip", "rotten", "cracked", "not_opened",
)  # fmt: skip
"""The outcome columns of a tray; together at most eggs_set."""


def _pen(required: bool = True) -> Column:
    return Column("pen", K.LABEL, "the pen's label", required, refers_to="pens")


def _batch() -> Column:
    return Column("batch", K.LABEL, "the batch's label", True, refers_to="batches")


def _incubator() -> Column:
    return Column("incubator", K.LABEL, "the machine's label", True, refers_to="incubators")


def _notes(name: str = "notes", note: str = "anything else worth keeping") -> Column:
    return Column(name, K.TEXT, note)


def _count(name: str, note: str) -> Column:
    return Column(name, K.COUNT, note)


def _celsius(name: str, note: str) -> Column:
    return Column(name, K.NUMBER, f"{note}, °C")


def _humidity(name: str, note: str) -> Column:
    return Column(name, K.NUMBER, f"{note}, % relative humidity", low=0, high=100)


def _grams(name: str, note: str) -> Column:
    return Column(name, K.NUMBER, f"{note}, g", low=0)


_OUTCOME_NOTES = {
    "hatched": "live chicks kept",
    "culled": "live chicks not kept",
    "infertile": "opened and judged infertile by the germinal disc",
    "clear": "no development seen, not told apart (infertile, or dead before anything shows)",
    "early_dead": "dead early (stages by day: see your species)",
    "mid_dead": "dead in the middle",
    "late_dead": "dead late, not pipped",
    "internal_pip": "beak in the air cell, shell whole, dead",
    "external_pip": "shell broken by the chick, not out, dead",
    "rotten": "rotten or burst, stage not known",
    "cracked": "cracked before or at setting; still counted in rates of set, in no other",
    "not_opened": "did not hatch and was not opened",
}

SHEETS: tuple[Sheet, ...] = (
    Sheet("pens", "a breeding pen (one mating group)", (
        Column("pen", K.LABEL, "your name for the pen", True),
        Column("species", K.LABEL, "species key, such as coturnix_quail", True),
        Column("line", K.TEXT, "strain or line"),
        Column("hens_hatched_on", K.DAY, "when the hens hatched (their age comes from this)"),
        Column("from", K.DAY, "first day of the mating group"),
        Column("to", K.DAY, "last day; blank = still so"),
        _count("males", "males present"),
        _count("females", "females present"),
        _notes(),
    ), ("pen",)),
    Sheet("incubators", "a machine", (
        Column("incubator", K.LABEL, "your name for the machine", True),
        Column("role", K.TEXT, "what it is used as", choices=("setter", "hatcher", "both")),
        Column("air", K.TEXT, "forced (fan) or still air", choices=("forced", "still")),
        Column("capacity_eggs", K.WHOLE, "eggs it holds"),
        _notes(),
    ), ("incubator",)),
    Sheet("batches", "eggs set together in one machine", (
        Column("batch", K.LABEL, "your name for the batch", True),
        _incubator(),
        Column("hatcher", K.LABEL, "machine from transfer on; blank = the same", refers_to="incubators"),
        Column("set_on", K.MOMENT, "when set, with the hour if you can", True),
        Column("transfer_on", K.MOMENT, "when moved to the hatcher"),
        Column("pulled_on", K.MOMENT, "when the hatch was taken out; until then the batch is open"),
        _notes(),
    ), ("batch",)),
    Sheet("birds", "a breeder", (
        Column("bird", K.LABEL, "ring number or name", True),
        Column("sex", K.TEXT, "m or f", True, choices=("m", "f")),
        Column("sire", K.LABEL, "its father", refers_to="birds"),
        Column("dam", K.LABEL, "its mother", refers_to="birds"),
        Column("hatched_on", K.DAY, "day of hatch"),
        Column("species", K.LABEL, "species key"),
        _notes(),
    ), ("bird",)),
    Sheet("pen_birds", "a bird's stay in a pen", (
        _pen(),
        Column("bird", K.LABEL, "the bird", True, refers_to="birds"),
        Column("from", K.DAY, "first day in the pen", True),
        Column("to", K.DAY, "last day; blank = still there"),
        Column("left_because", K.TEXT, "why it left", choices=("died", "sold", "culled", "moved")),
    ), ("pen", "bird", "from")),
    Sheet("trays", "eggs of one pen and one storage group within a batch", (
        _batch(),
        Column("tray", K.LABEL, "your name for the tray within the batch", True),
        _pen(),
        Column("sire", K.LABEL, "father of the eggs, if known", refers_to="birds"),
        Column("dam", K.LABEL, "mother of the eggs, if known", refers_to="birds"),
        Column("laid_from", K.DAY, "first day these eggs were laid"),
        Column("laid_to", K.DAY, "last day these eggs were laid"),
        Column("storage_days", K.NUMBER, "mean days stored before setting", low=0),
        _celsius("storage_c", "temperature of the store"),
        _humidity("storage_rh", "humidity of the store"),
        Column("eggs_set", K.WHOLE, "eggs set", True),
        *(_count(name, note) for name, note in _OUTCOME_NOTES.items()),
        _grams("tare_g", "empty tray"),
        _count("weighed_set", "eggs on the tray when weighed at setting"),
        _grams("weight_set_g", "tray with eggs at setting"),
        _count("weighed_transfer", "eggs on the tray when weighed at transfer"),
        _grams("weight_transfer_g", "tray with eggs at transfer"),
        Column("weighed_on", K.MOMENT, "when weighed the second time"),
        Column("candled_on", K.DAY, "day of candling"),
        _count("removed_at_candling", "eggs taken out at candling (also counted in their outcome)"),
        Column("opened_on", K.DAY, "day the unhatched eggs were opened"),
        _notes(),
    ), ("batch", "tray")),
    Sheet("diets", "a feed period of a pen", (
        _pen(),
        Column("from", K.DAY, "first day", True),
        Column("to", K.DAY, "last day; blank = still so"),
        Column("feed", K.TEXT, "name of the feed"),
        Column("calcium_pct", K.NUMBER, "calcium, % of feed", low=0, high=100),
        Column("protein_pct", K.NUMBER, "protein, % of feed", low=0, high=100),
        Column("supplement", K.TEXT, "anything added"),
    ), ("pen", "from")),
    Sheet("changes", "something deliberately changed", (
        Column("changed_on", K.DAY, "the day", True),
        Column("scope", K.TEXT, "what it touched", True, choices=("pen", "storage", "incubator", "all")),
        Column("target", K.LABEL, "which pen or machine"),
        Column("what", K.TEXT, "what was changed", True),
        Column("why", K.TEXT, "why"),
    ), ("changed_on", "scope", "target", "what")),
    Sheet("hatch_counts", "chicks out so far", (
        _batch(),
        Column("tray", K.LABEL, "the tray; blank = the whole batch"),
        Column("counted_at", K.MOMENT, "when counted, with the hour", True),
        Column("out_so_far", K.COUNT, "chicks out so far", True),
    ), ("batch", "tray", "counted_at")),
    Sheet("climate", "a logger reading", (
        _incubator(),
        Column("at", K.MOMENT, "time of the reading", True),
        _celsius("temperature_c", "air at egg height (still air: egg top)"),
        Column("humidity_pct", K.NUMBER, "relative humidity, %"),
    ), ("incubator", "at")),
    Sheet("checks", "a display read beside a reference instrument", (
        _incubator(),
        Column("at", K.MOMENT, "when", True),
        _celsius("displayed_c", "what the machine shows"),
        _celsius("reference_c", "what the reference thermometer shows"),
        _humidity("displayed_rh", "what the machine shows"),
        _humidity("reference_rh", "what the reference instrument shows"),
        Column("reference", K.TEXT, "which reference instrument"),
    ), ("incubator", "at")),
    Sheet("incubator_events", "something that happened to a machine", (
        _incubator(),
        Column("at", K.MOMENT, "when", True),
        Column("event", K.TEXT, "what", True,
               choices=("opened", "power_cut", "turner_stopped", "refilled", "cleaned", "moved")),
        Column("minutes", K.NUMBER, "how long, minutes", low=0),
        _notes(),
    ), ("incubator", "at", "event")),
    Sheet("candlings", "a tray looked through with a light", (
        _batch(),
        Column("tray", K.LABEL, "the tray", True),
        Column("on", K.DAY, "day of candling", True),
        _count("eggs", "eggs looked at"),
        _count("clear", "clear"),
        _count("dead", "dead"),
        _count("cracked", "cracked"),
        _count("removed", "taken out"),
    ), ("batch", "tray", "on")),
    Sheet("targets", "the breeder's own aim", (
        Column("species", K.LABEL, "species key", True),
        Column("measure", K.TEXT, "which rate", True, choices=(
            "fertility", "hatch_of_set", "saleable_of_set", "cull_rate", "hatch_of_fertile",
            "early_loss", "mid_loss", "late_loss", "shell_loss", "rotten")),
        Column("target", K.SHARE, "aim as a share, 0..1", True),
    ), ("species", "measure")),
    Sheet("opened_eggs", "one unhatched egg opened", (
        _batch(),
        Column("tray", K.LABEL, "the tray", True),
        Column("egg", K.WHOLE, "number within the tray", True),
        Column("class", K.TEXT, "its outcome, as in trays", True, choices=OUTCOMES),
        Column("day", K.NUMBER, "day of development it died, if judged", low=0),
        Column("dry_membrane", K.YES_NO, "membrane dry and tight"),
        Column("malposition", K.WHOLE, "1 to 6", high=6),
        Column("malformed", K.YES_NO, "malformed"),
        Column("smell", K.YES_NO, "smelled bad"),
        Column("shell_mm", K.NUMBER, "shell thickness, mm", low=0),
        _notes(),
    ), ("batch", "tray", "egg")),
    Sheet("fresh_eggs", "fresh eggs opened to read the germinal disc", (
        _pen(),
        Column("opened_on", K.DAY, "day", True),
        Column("eggs", K.WHOLE, "eggs opened", True),
        Column("fertile", K.COUNT, "of them fertile", True),
    ), ("pen", "opened_on")),
    Sheet("shells", "a shell sample", (
        _pen(),
        Column("sampled_on", K.DAY, "day", True),
        Column("eggs", K.WHOLE, "eggs measured"),
        Column("thickness_mm", K.NUMBER, "mean shell thickness, mm", low=0),
        Column("specific_gravity", K.NUMBER, "mean specific gravity", low=0.9, high=1.3),
        _grams("egg_weight_g", "mean egg weight"),
    ), ("pen", "sampled_on")),
    Sheet("lay", "eggs a pen laid on a day", (
        _pen(),
        Column("on", K.DAY, "day", True),
        Column("eggs", K.COUNT, "eggs laid", True),
        _count("hens", "hens present"),
        _count("set_aside", "eggs not used for setting"),
        Column("why", K.TEXT, "why set aside"),
    ), ("pen", "on")),
    Sheet("chicks", "a tray's chicks after the hatch", (
        _batch(),
        Column("tray", K.LABEL, "the tray", True),
        Column("day", K.COUNT, "days after the hatch", True),
        _count("alive", "alive"),
        _count("dead", "dead since hatch"),
        _count("malformed", "malformed"),
        _count("splay_leg", "with splayed legs"),
    ), ("batch", "tray", "day")),
)  # fmt: skip

BY_NAME: dict[str, Sheet] = {sheet.name: sheet for sheet in SHEETS}
REQUIRED_SHEETS = ("pens", "incubators", "batches", "trays")
