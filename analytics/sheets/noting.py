"""Noting an action taken: one row of the sheet `changes`, through the same door as every other row."""

from __future__ import annotations

import csv
import difflib
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analytics.errors import WrongUsage
from analytics.sheets.load import load
from analytics.store.connection import reading
from analytics.store.counts import LABEL_OF

SCOPES = ("all", "storage")
"""Targets that are no label: everything, and how eggs are kept before setting."""
_KNOWN = """
SELECT DISTINCT scope, label, label_of(label) = label_of($target) AS meant
FROM (SELECT 'pen' AS scope, pen AS label FROM pens WHERE withdrawn_in IS NULL
    UNION ALL SELECT 'incubator', incubator FROM incubators WHERE withdrawn_in IS NULL) AS labelled
ORDER BY 1, 2
"""


@dataclass(frozen=True, slots=True)
class Noted:
    """An action that is kept.

    Attributes:
        changed_on: the day.
        scope: pen, incubator, storage or all.
        target: the pen's or machine's label as the records write it, "" for the others.
        what: what was done.
        why: why, "" where it was not said.
        entry_no: the ledger entry; None where the same was noted before.
    """

    changed_on: date
    scope: str
    target: str
    what: str
    why: str
    entry_no: int | None


def note(
    store: Path, what: str, changed_on: date, target: str = "all", why: str = "", who: str | None = None
) -> Noted:
    """Keeps an action.

    Args:
        store: the store.
        what: what was done; not blank.
        changed_on: the day.
        target: a pen, a machine, "storage" or "all".
        why: why.
        who: name for the ledger, None = the user's.

    Raises:
        WrongUsage: nothing is said, or no pen or machine, or more than one, has that label.
        LoadRejected: the row breaks a rule of the sheet, as a day far ahead does.
        StoreError and its kinds: as `writing`.
    """
    if not what.strip():
        raise WrongUsage("The note is blank", "It says what was done", "Say it in a few words")
    scope, label = _meant(store, target)
    row = (changed_on.isoformat(), scope, label, what.strip(), why.strip())
    with tempfile.TemporaryDirectory(prefix="penwise-") as folder:
        sheet = Path(folder) / "changes.csv"
        with sheet.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows((("changed_on", "scope", "target", "what", "why"), row))
        report = load(store, [sheet], who=who)
    return Noted(changed_on, scope, label, what.strip(), why.strip(), report.entry_no)


def _meant(store: Path, target: str) -> tuple[str, str]:
    """Scope and label of what is meant."""
    wanted = target.strip().casefold()
    if wanted in SCOPES:
        return wanted, ""
    with reading(store) as connection:
        connection.execute(LABEL_OF)
        known = connection.execute(_KNOWN, {"target": target}).fetchall()
    found = [(str(scope), str(label)) for scope, label, meant in known if meant]
    if len(found) == 1:
        return found[0]
    if found:
        raise WrongUsage(
            f"{target} is a pen and a machine",
            "A note is of one of them",
            "Write the row into the sheet changes, with its scope",
        )
    names = [str(label) for _, label, _ in known]
    near = difflib.get_close_matches(target, [*names, *SCOPES], 1)
    repair = f"Did you mean {near[0]}?" if near else f"There are {', '.join([*names, *SCOPES])}"
    raise WrongUsage(f"No pen or machine {target}", "A note is of a pen, a machine, storage or all", repair)
