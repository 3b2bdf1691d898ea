"""At the bench on a phone: a hatch of 48 eggs by taps, a reload, a lost connection, two phones on a tray."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from analytics.sheets.bench import begun, bench_batches
from analytics.sheets.load import ByHand
from analytics.sheets.typed import keep_rows
from dashboard import words_bench

from .conftest import Running, running

pytestmark = pytest.mark.browser
MOST_TAPS = 70
PATIENT = 60_000
ROWS = {
    "pens": [{"pen": "Rowan", "species": "coturnix_quail"}, {"pen": "Alder", "species": "coturnix_quail"}],
    "incubators": [{"incubator": "North"}],
    "batches": [{"batch": "B1", "incubator": "North", "set_on": "2026-03-01T18:00"}],
    "trays": [
        {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "24"},
        {"batch": "B1", "tray": "T2", "pen": "Alder", "eggs_set": "24"},
    ],
}
FOUND = {
    "T1": {"infertile": 2, "early_dead": 2, "late_dead": 1},
    "T2": {"clear": 1, "early_dead": 2, "external_pip": 1, "rotten": 1},
}
"""10 eggs of 48 that did not hatch."""
FITS = (
    "[document.documentElement, document.querySelector('[data-testid=stMain]')]"
    ".every(part => part.scrollWidth <= part.clientWidth)"
)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A batch of two trays in the machine, and nothing else."""
    path = tmp_path / "own.duckdb"
    keep_rows(path, ROWS, ByHand("test"))
    return path


@pytest.fixture
def farm(store: Path, tmp_path: Path) -> Iterator[Running]:
    with running("serve", "--store", store, home=tmp_path) as program:
        yield program


class Hand:
    """A hand that counts its taps; every target is large enough for it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, target: Locator) -> None:
        assert _height(target) >= 44
        target.click(timeout=PATIENT)
        self.taps += 1

    def press(self, name: str) -> None:
        self.tap(self.page.get_by_role("button", name=name))

    def outcome(self, key: str) -> None:
        target = self.page.locator(f".pwb-{key} .pwb-one")
        assert _height(target) >= 56
        self.tap(target)


def _height(target: Locator) -> float:
    """Pixels; asked again where the page draws the target anew just then."""
    for _ in range(20):
        expect(target).to_be_enabled(timeout=PATIENT)
        if box := target.bounding_box():
            return float(box["height"])
        target.page.wait_for_timeout(200)
    pytest.fail("the target cannot be seen")


def _total(page: Page, told: int, eggs: int = 24) -> None:
    expect(page.locator(".pwb-total")).to_have_text(f"{told} of {eggs} eggs", timeout=PATIENT)


def _tray(page: Page, url: str, tray: str) -> None:
    page.goto(f"{url}/bench?batch=B1&tray={tray}")
    expect(page.locator(".pwb-hatched .pwb-one")).to_be_enabled(timeout=PATIENT)


def test_a_hatch_of_48_eggs_takes_at_most_70_taps(farm, store, watch, settled, keep_picture) -> None:
    watched = watch(390)
    page = watched.page
    page.goto(f"{farm.url}/bench")
    hand = Hand(page)
    settled(page)
    hand.press("B1")
    for tray, found in FOUND.items():
        hand.press("T1") if tray == "T1" else hand.press(words_bench.DONE_NEXT)
        expect(page.get_by_role("heading", level=1)).to_have_text(f"B1, tray {tray}", timeout=PATIENT)
        told = 0
        for outcome, eggs in found.items():
            for _ in range(eggs):
                hand.outcome(outcome)
                told += 1
        _total(page, told)
        if tray == "T2":  # a reload in the middle keeps what was tapped
            page.reload()
            _total(page, told)
        keep_picture(page, f"bench-tray-{tray}")
        assert page.evaluate(FITS)
        hand.press(words_bench.REST_HATCHED)
        _total(page, 24)
        hand.press(f"Close tray {tray}")
        expect(page.get_by_text(f"Tray {tray} of B1 is closed")).to_be_visible(timeout=PATIENT)
    expect(page.get_by_role("heading", name=words_bench.DONE_LAST)).to_be_visible(timeout=PATIENT)
    expect(page.get_by_text("38 hatched: 79")).to_be_visible(timeout=PATIENT)
    keep_picture(page, "bench-done")
    assert hand.taps <= MOST_TAPS
    (batch,) = bench_batches(store)
    assert batch.is_done
    told = {tray.tray: {name: eggs for name, eggs in tray.recorded.items() if eggs} for tray in batch.trays}
    assert told == {"T1": {**FOUND["T1"], "hatched": 19}, "T2": {**FOUND["T2"], "hatched": 19}}
    assert batch.pulled_on is not None
    watched.assert_calls_nobody()
    assert watched.complaints == []


def test_two_phones_on_one_tray_add_and_each_undoes_its_own(farm, store, watch) -> None:
    one, two = watch(390).page, watch(390, "dark").page
    for page in (one, two):
        _tray(page, farm.url, "T1")
    Hand(one).outcome("clear")
    _total(one, 1)
    Hand(two).outcome("rotten")
    _total(two, 2)
    _total(one, 2)  # what another phone taps is seen without a tap of one's own
    Hand(one).press("Undo: Clear")
    expect(one.locator(".pwb-undo")).to_have_text(words_bench.UNDO_NONE, timeout=PATIENT)
    _total(one, 1)
    assert [tray.drafted for tray in begun(store)] == [{"rotten": 1}]
    two.reload()
    expect(two.locator(".pwb-undo")).to_have_text("Undo: Rotten", timeout=PATIENT)


def test_a_lost_connection_stops_the_buttons_and_says_so(farm, store, watch) -> None:
    page = watch(390).page
    _tray(page, farm.url, "T1")
    Hand(page).outcome("clear")
    _total(page, 1)
    page.context.set_offline(True)
    expect(page.get_by_role("alert").filter(has_text=words_bench.OFFLINE)).to_be_visible(timeout=PATIENT)
    expect(page.locator(".pwb-clear .pwb-one")).to_be_disabled()
    page.context.set_offline(False)
    Hand(page).outcome("clear")
    _total(page, 2)
    farm.job.terminate()  # the computer is gone, the phone still has its network
    expect(page.get_by_role("alert").filter(has_text=words_bench.OFFLINE)).to_be_visible(timeout=PATIENT)
    expect(page.locator(".pwb-clear .pwb-one")).to_be_disabled()
    farm.job.wait()
    assert [tray.drafted for tray in begun(store)] == [{"clear": 2}]
