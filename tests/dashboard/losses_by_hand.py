"""Whose loss it is, made by hand: pens by batches with one stripe along a pen and one down a batch."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from analytics.attribution.ledger import ItemLine, LedgerLine, StepLine
from analytics.measures.clear_records import ClearAssumptions, ClearInformed, ClearShare, FreshAdvice
from analytics.options import Selection
from analytics.studies.causes_records import (
    CauseFinding,
    Causes,
    CausesAnswer,
    CausesWords,
    Mark,
    NoAnswer,
    NotApart,
    Scope,
    StripeBatch,
    StripeCell,
    StripeMap,
    TrayRow,
)
from analytics.studies.clear_records import Clears, PenClears, SpeciesClears
from analytics.studies.trays_behind import Behind, TraysFound

PENS = ("Alder", "Birch", "<i>Cedar & Co</i>", "Hazel with a name that is very long")
MACHINES = ("Flint", "Slate")
WEAK_PEN, BAD_BATCH = PENS[3], "Q004"
FIRST_DAY = date(2026, 1, 6)
GROUPS = (
    LedgerLine("flock", 60.0, 38.0, 85.0, 0.999),
    LedgerLine("handling", 12.0, -4.0, 30.0, 0.91),
    LedgerLine("incubator", 25.0, 8.0, 45.0, 0.99),
    LedgerLine("season", -6.0, -15.0, 2.0, 0.08),
    LedgerLine("shared", 0.0, 0.0, 0.0, 0.0),
    LedgerLine("baseline", -40.0, -70.0, -12.0, 0.01),
    LedgerLine("chance", 9.0, -20.0, 35.0, 0.7),
)
"""They come to 60 + 12 + 25 - 6 + 0 - 40 + 9 = 60 chicks, 0.8 x 1,000 less 740."""
STEPS = (
    StepLine("fertile", 1000.0, 140.0, 100.0),
    StepLine("early", 860.0, 50.0, 46.0),
    StepLine("mid", 810.0, 10.5, 12.0),
    StepLine("late", 799.5, 39.5, 30.0),
    StepLine("shell", 760.0, 20.0, 22.0),
)


def make_batches(number: int, machines: Sequence[str] = MACHINES) -> tuple[StripeBatch, ...]:
    """Batches a week apart, in one machine and the next in turn; by machine, then day of setting."""
    found = []
    for place in range(number):
        machine = machines[place % len(machines)]
        set_on = FIRST_DAY + timedelta(weeks=place)
        hatcher = machines[0] if place % 5 == 4 else machine
        found.append(StripeBatch(f"Q{place + 1:03}", machine, hatcher, set_on, set_on + timedelta(days=18)))
    return tuple(sorted(found, key=lambda one: (one.machine, one.set_on)))


def make_stripes(
    step: str = "all", pens: Sequence[str] = PENS, number: int = 8, machines: Sequence[str] = MACHINES
) -> StripeMap:
    """Every pen has 30 eggs in every batch, 24 expected, but the second sends 8 and misses the last batch."""
    batches = make_batches(number, machines)
    cells = []
    for row, pen in enumerate(pens):
        for one in batches:
            eggs = 8.0 if row == 1 else 30.0
            if row == 1 and one.batch == f"Q{number:03}":
                continue
            short = 6.0 * (pen == WEAK_PEN) + 9.6 * (one.batch == BAD_BATCH) - 1.5
            came = eggs * 0.8 - short * eggs / 30
            residual = (came - eggs * 0.8) / (eggs * 0.16) ** 0.5
            cells.append(
                StripeCell(pen, one.batch, eggs, came, eggs * 0.8, residual, row == 1, (f"{row + 1}",))
            )
    return StripeMap(
        step, tuple(pens), batches, tuple(cells), "Held against the typical pen in this machine."
    )


def make_findings() -> tuple[CauseFinding, ...]:
    """A pen over some months, a machine, and a covariate."""
    return (
        CauseFinding(
            ItemLine("flock", "pen", WEAK_PEN, "fertile", 55.0, 40.0, 71.0, 1e-7, "2026-02", "2026-03"),
            1e-6, "clear", "Hazel lost fertility from February 2026 on.", "Look at the male of the pen.",
        ),
        CauseFinding(
            ItemLine("incubator", "incubator", "Slate", "late", 21.0, 9.0, 34.0, 0.002),
            0.006, "likely", "Slate loses late embryos in every pen.", "Check its thermometer.",
        ),
        CauseFinding(
            ItemLine("handling", "storage", "", "early", 11.0, 1.0, 22.0, 0.03),
            0.04, "hint", "Eggs stored long die early.", "",
        ),
    )  # fmt: skip


def make_answer(
    species: str = "coturnix_quail", stripes: tuple[StripeMap, ...] | None = None
) -> CausesAnswer:
    """The answer about one species."""
    scope = Scope(FIRST_DAY, FIRST_DAY + timedelta(days=70), 32, 8, 4, 1000.0, 740.0, 3, 90)
    return CausesAnswer(
        species=species,
        selection=Selection(),
        counted=scope,
        fitted=scope,
        mark=Mark(0.8, "own", "your own aim in the sheet targets"),
        groups=GROUPS,
        causes=LedgerLine("causes", 91.0, 60.0, 120.0, 1.0),
        steps=STEPS,
        findings=make_findings(),
        cannot_separate=(
            NotApart(("pen", "incubator"), ("Alder", "Flint"), 7.0, -3.0, 18.0,
                     "Alder's eggs lay in Flint only.", "Set 12 eggs of Alder in Slate."),
        ),
        stripes=stripes if stripes is not None else (make_stripes(), make_stripes("fertile")),
        words=CausesWords(
            sentence="740 chicks of 1,000 eggs: 60 short of your aim of 80 %, about 60 of them the flock's.",
            points=("Flock: about 60 chicks (38 to 85), above all Hazel.", "Not told apart: Alder."),
            groups={line.group: f"The part of {line.group} in words." for line in GROUPS},
            clears="21 clear eggs were not opened; up to 9 of them may be early death.",
            fitted="Learnt from 32 trays of 8 batches.",
            left_out=("Diet has no part: all pens had one.",),
            doubts=("Late: the fit was slow to settle.",),
            caution="Rotten eggs can burst: take them out with care.",
        ),
    )  # fmt: skip


def make_clears(species: str = "coturnix_quail") -> SpeciesClears:
    """21 clear eggs, of them 12 to 21 infertile; Alder has none."""
    return SpeciesClears(
        species=species,
        whole=ClearShare(1000.0, 21.0, 120.0, 24, 0.87, 0.84, 0.9, 12.0, 21.0),
        pens=(
            PenClears("Alder", ClearShare(250.0, 0.0, 30.0, 6, 0.88, 0.84, 0.92, 0.0, 0.0)),
            PenClears("Birch", ClearShare(250.0, 20.0, 30.0, 6, 0.86, 0.8, 0.91, 11.0, 20.0)),
        ),
        informed=ClearInformed(1000.0, 32, 32, 1.0, 9.0, 2.5, 24, 120.0, 15.0),
        advice=FreshAdvice(60, 0.02, 0.05),
        assumed=ClearAssumptions(),
        sentence="Of 21 clear eggs, 12 to 21 were probably infertile.",
    )


def make_causes(*answers: CausesAnswer, without: tuple[NoAnswer, ...] = ()) -> Causes:
    """The answer of the study."""
    clears = Clears(Selection(), (make_clears(),))
    return Causes(Selection(), answers or (make_answer(),), without, clears)


def make_tray(pen: str, batch: StripeBatch, tray: str, infertile: int, *, left_out: str = "") -> TrayRow:
    """A tray of 30 eggs."""
    return TrayRow(
        batch.batch, tray, pen, batch.machine, batch.hatcher, batch.set_on, batch.hatch_on, 4.0, 30,
        None if left_out else 28 - infertile, {"infertile": infertile, "late_dead": 2}, left_out,
    )  # fmt: skip


def make_trays(number: int = 8) -> tuple[TrayRow, ...]:
    """One tray of each pen in each batch; the weak pen's have most infertile eggs."""
    return tuple(
        make_tray(pen, one, str(row + 1), 9 if pen == WEAK_PEN else 2 + row)
        for one in make_batches(number)
        for row, pen in enumerate(PENS)
    )


def found_trays(asked: Behind, most: int | None) -> TraysFound:
    """Those of `make_trays` that are asked for by pens, batches and months, most infertile eggs first."""
    rows = [
        row
        for row in make_trays()
        if (not asked.pens or row.pen in asked.pens)
        and (not asked.batches or row.batch in asked.batches)
        and (asked.first or "0") <= f"{row.hatch_on:%Y-%m}" <= (asked.last or "9")
    ]
    rows.sort(key=lambda row: -row.outcomes["infertile"])
    eggs, chicks = sum(row.eggs_set for row in rows), sum(row.hatched or 0 for row in rows)
    return TraysFound(tuple(rows[:most]), len(rows), eggs, chicks)
