"""The dashboard in a real browser: read a month, bring sheets in, and nobody else is called."""

from __future__ import annotations

import csv
import re
import signal
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from dashboard import words, words_pens, words_trends

pytestmark = pytest.mark.browser
WIDTHS_AND_LIGHTS = [(width, light) for width in (1280, 390) for light in ("light", "dark")]
TRAYS = "batch,tray,pen,eggs_set,hatched,culled,infertile,early_dead,late_dead\n"
SHEETS = {
    "pens": "pen,species\nAlder,coturnix_quail\nBirch,coturnix_quail\n",
    "incubators": "incubator,role\nNorth,both\n",
    "batches": "batch,incubator,set_on,pulled_on\nb1,North,2026-03-01,2026-03-19\n",
}
GOOD = TRAYS + "b1,1,Alder,40,31,1,3,2,3\nb1,2,Birch,36,27,0,4,1,2\n"
BAD = TRAYS + "b1,1,Alder,40,39,1,3,2,3\nb1,2,Brich,36,27,0,4,1,2\n"


def _month_is_there(page: Page) -> None:
    expect(page.get_by_role("heading", level=1)).to_be_visible(timeout=60_000)
    expect(page.get_by_role("heading", name=words.GAPS_HEADING)).to_be_visible(timeout=30_000)
    _is_at_rest(page)  # what stands out has been put in above
    expect(page.get_by_role("figure").first).to_be_visible(timeout=60_000)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0)


def _fits(page: Page) -> bool:
    return bool(
        page.evaluate(
            "[document.documentElement, document.querySelector('[data-testid=stMain]')]"
            ".every(part => part.scrollWidth <= part.clientWidth)"
        )
    )


@pytest.mark.parametrize(("width", "light"), WIDTHS_AND_LIGHTS)
def test_the_month_of_the_demo(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(demo.url)
    _month_is_there(page)
    expect(page.locator(".pw-first")).to_have_text("Look at Hazel first.", timeout=120_000)
    expect(page.locator(".pw-answer").last).to_contain_text(re.compile(r"\d+ hatched: \d+\s% of set"))
    assert page.get_by_role("figure").count() >= 2
    assert all(figure.get_attribute("aria-label") for figure in page.get_by_role("figure").all())
    assert page.evaluate("document.documentElement.lang") == "en"
    assert _fits(page)
    keep_picture(page, f"this-month-{light}-{width}")
    watched.assert_calls_nobody()
    assert watched.complaints == []


@pytest.mark.parametrize(("width", "light"), WIDTHS_AND_LIGHTS)
def test_the_records_of_the_demo(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(f"{demo.url}/record-sheets")
    expect(page.get_by_role("heading", name=words.LOADS_HEADING)).to_be_visible(timeout=60_000)
    assert _fits(page)
    keep_picture(page, f"records-{light}-{width}")
    watched.assert_calls_nobody()
    assert watched.complaints == []


def _is_answered(page: Page) -> None:
    expect(page.get_by_role("heading", name=words_pens.TESTED_HEADING)).to_be_visible(timeout=60_000)
    expect(page.get_by_role("figure").first).to_be_visible(timeout=60_000)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0)
    _is_at_rest(page)


def _is_at_rest(page: Page) -> None:
    """What is typed or pressed while a page is being made may be lost."""
    at_rest = page.locator("[data-testid=stApp][data-test-script-state=notRunning]")
    expect(at_rest).to_be_visible(timeout=120_000)
    page.wait_for_timeout(300)
    expect(at_rest).to_be_visible(timeout=120_000)


@pytest.mark.parametrize(("width", "light"), WIDTHS_AND_LIGHTS)
def test_pen_against_pen_of_the_demo(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(f"{demo.url}/pens?measure=fertility&first=Hazel&second=Rowan")
    _is_answered(page)
    assert "Hazel's fertility is below the others" in page.inner_text(".pw-first")
    assert page.get_by_role("figure").count() == 4  # two species, rates in order and rates against eggs
    assert all(figure.get_attribute("aria-label") for figure in page.get_by_role("figure").all())
    expect(page.get_by_text("Hazel's fertility is 8.8 points below Rowan's")).to_be_visible()
    assert _fits(page)
    keep_picture(page, f"pens-{light}-{width}")
    watched.assert_calls_nobody()
    assert watched.complaints == []


@pytest.mark.parametrize(("width", "light"), WIDTHS_AND_LIGHTS)
def test_the_trends_of_the_demo(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(f"{demo.url}/trends")
    _is_answered(page)
    assert "Hatch of set fell by 0.47 points a month" in page.inner_text(".pw-first").replace("\u00a0", " ")
    assert page.get_by_role("figure").get_attribute("aria-label")
    assert _fits(page)
    keep_picture(page, f"trends-{light}-{width}")
    watched.assert_calls_nobody()
    assert watched.complaints == []


def test_two_are_chosen_the_link_is_copied_and_the_table_taken_away(
    demo, watch, settled, tmp_path: Path
) -> None:
    first, second = watch().page, watch().page
    first.goto(f"{demo.url}/pens?measure=fertility")
    _is_answered(first)
    for pen in ("Alder", "Cedar"):
        first.get_by_role("button", name=pen, exact=True).first.click()
        settled(first)
    first.wait_for_url("**second=Cedar**")
    expect(first.get_by_text("Alder's fertility is")).to_be_visible()
    second.goto(first.url)
    _is_answered(second)
    expect(second.get_by_text("Alder's fertility is")).to_be_visible()
    first.get_by_role("button", name=words_pens.DOWNLOAD_NUMBERS).click()
    with first.expect_download() as taken:
        first.get_by_role("button", name=words.TAKE_AS["csv"], exact=True).click()
    taken.value.save_as(tmp_path / "pens.csv")
    rows = list(csv.DictReader((tmp_path / "pens.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert len(rows) == 10
    assert {"pen", "rate", "low", "high", "eggs", "shrunk_rate", "why"} <= set(rows[0])
    first.keyboard.press("Escape")
    first.get_by_role("button", name=words.TAKE_PICTURE).first.click()
    with first.expect_download() as taken:
        first.get_by_role("button", name=words.TAKE_AS["svg"], exact=True).click()
    taken.value.save_as(tmp_path / "pens.svg")
    assert "Hazel" in (tmp_path / "pens.svg").read_text(encoding="utf-8")


def test_what_was_chosen_goes_along_to_the_next_page(demo, watch) -> None:
    page = watch().page
    page.goto(f"{demo.url}/pens?measure=late_loss&from=2026-01&incubator=Slate")
    _is_answered(page)
    page.get_by_role("link", name=words_trends.PAGE).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Late loss month by month", timeout=60_000)
    _is_at_rest(page)
    page.wait_for_url("**from=2026-01**")
    page.wait_for_url("**incubator=Slate**")
    page.get_by_role("link", name=words.PAGE_MONTH).click()
    _month_is_there(page)
    page.wait_for_url("**measure=late_loss**")
    page.get_by_role("link", name=words_pens.PAGE).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Pen against pen: late loss")
    page.wait_for_url("**from=2026-01**")


def test_a_copied_link_shows_the_same(demo, watch) -> None:
    first, second = watch().page, watch().page
    first.goto(demo.url)
    _month_is_there(first)
    box = first.get_by_role("combobox", name=words.FILTER_MONTH)
    box.scroll_into_view_if_needed()
    first.wait_for_timeout(800)  # a list closes when the page moves beneath it
    box.click()
    first.get_by_role("option").nth(3).click()
    first.get_by_role("combobox", name=words.FILTER_MEASURE).click()
    first.get_by_role("option", name="Fertility", exact=True).click()
    first.wait_for_url("**measure=fertility**", timeout=60_000)
    _is_at_rest(first)
    expect(first.get_by_role("heading", name="Fertility month by month").first).to_be_visible()
    second.goto(first.url)
    _month_is_there(second)
    for place in ("h1", ".pw-first"):
        assert second.inner_text(place) == first.inner_text(place)
    assert second.get_by_role("heading", name="Fertility month by month").count() >= 1


def test_the_filters_stay_from_page_to_page_and_the_way_back_works(demo, watch) -> None:
    page = watch().page
    page.goto(f"{demo.url}/?pen=alder&pen=nobody")
    _month_is_there(page)
    expect(page.get_by_text("“nobody”")).to_be_visible()
    page.get_by_role("link", name=words.PAGE_RECORDS).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(words.PAGE_RECORDS, timeout=60_000)
    _is_at_rest(page)
    page.get_by_role("link", name=words.PAGE_MONTH).click()
    _month_is_there(page)
    page.wait_for_url("**pen=Alder**")
    title = page.get_by_role("heading", level=1)
    for _ in range(2):  # the link without its filters, before it was written, is a step of its own
        page.go_back()
        page.wait_for_timeout(1500)
        if title.inner_text() == words.PAGE_RECORDS:
            return
    pytest.fail(f"two steps back from the month do not lead to the records, but to {page.url}")


def test_the_keyboard_reaches_and_moves_the_month(demo, watch, settled) -> None:
    page = watch().page
    page.goto(demo.url)
    _month_is_there(page)
    before = page.inner_text("h1")
    page.get_by_role("heading", level=1).click()
    for _ in range(16):  # twelve pages and the wishes stand before it
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('aria-label')") == words.FILTER_MONTH:
            break
    else:
        pytest.fail("Tab does not reach the month")
    for _ in range(5):  # a page that is drawn anew meanwhile closes the list
        settled(page)
        page.get_by_role("combobox", name=words.FILTER_MONTH).focus()
        page.keyboard.press("ArrowDown")
        page.wait_for_timeout(1_000)
        if page.get_by_role("option").count():
            break
    page.keyboard.press("ArrowDown")
    page.wait_for_timeout(500)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).not_to_have_text(before, timeout=60_000)


def test_the_keyboard_is_seen_on_the_names_of_the_pages(demo, watch) -> None:
    page = watch().page
    page.goto(demo.url)
    _month_is_there(page)
    pages = page.locator('.st-key-pages [data-testid="stPageLink-NavLink"]')
    assert pages.count() == 12
    for number in range(pages.count()):
        pages.nth(number).focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        outline = pages.nth(number).evaluate("e => getComputedStyle(e).outline")
        assert "solid 3px" in outline, outline


def test_on_a_phone_the_pages_names_are_there_and_nothing_has_to_be_closed(demo, watch) -> None:
    page = watch(390).page
    page.goto(demo.url)
    _month_is_there(page)
    for name, first_words in ((words_pens.PAGE, "Pen against pen"), (words.PAGE_RECORDS, words.PAGE_RECORDS)):
        page.get_by_role("link", name=name, exact=True).click()
        expect(page.get_by_role("heading", level=1)).to_contain_text(first_words, timeout=60_000)
        _is_at_rest(page)
        expect(page.get_by_role("heading", level=1)).to_be_in_viewport()
        expect(page.get_by_test_id("stSidebar")).to_be_hidden()
        expect(page.get_by_test_id("stExpandSidebarButton")).to_be_hidden()
    heights = page.locator(".st-key-pages a").evaluate_all(
        "all => all.map(e => e.getBoundingClientRect().height)"
    )
    assert min(heights) >= 44
    assert _fits(page)


@pytest.mark.parametrize("width", [390, 767, 768, 1280])
def test_every_page_has_its_name_once_at_every_width(demo, watch, width: int) -> None:
    page = watch(width).page
    page.goto(f"{demo.url}/record-sheets")
    expect(page.get_by_role("heading", level=1)).to_have_text(words.PAGE_RECORDS, timeout=60_000)
    expect(page.get_by_role("link", name=words_trends.PAGE, exact=True)).to_have_count(1)
    expect(page.get_by_role("link", name=words_trends.PAGE, exact=True)).to_be_visible()


_TOO_SMALL = """
() => [...document.querySelectorAll('[data-testid=stMain] :is(button, summary, input)')]
    .filter(e => e.getBoundingClientRect().width > 0)
    .filter(e => e.tagName === 'INPUT' ? parseFloat(getComputedStyle(e).fontSize) < 16
        : e.closest('[role=group]') === null && e.getBoundingClientRect().height < 44)
    .map(e => e.outerHTML.slice(0, 120))
"""


def test_a_thumb_finds_every_field_on_a_phone(demo, watch) -> None:
    page = watch(390).page
    page.goto(demo.url)
    _month_is_there(page)
    assert page.locator("[data-testid=stMain] input").count() >= 2
    assert page.evaluate(_TOO_SMALL) == []


def test_a_printed_page_loses_no_picture(demo, watch) -> None:
    page = watch().page
    page.goto(demo.url)
    _month_is_there(page)
    page.emulate_media(media="print")
    expect(page.locator('[data-testid="stHeader"]')).to_be_hidden()
    paper_a4_px = 718  # 210 mm less two margins of 10 mm, at 96 px to 25.4 mm
    widths = page.locator('[data-testid="stPlotlyChart"] svg.main-svg').evaluate_all(
        "all => all.map(e => e.getBoundingClientRect().width)"
    )
    assert widths
    assert max(widths) <= paper_a4_px


def _lay_out(folder: Path, trays: str) -> list[Path]:
    folder.mkdir(exist_ok=True)
    for name, text in {**SHEETS, "trays": trays}.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return sorted(folder.glob("*.csv"))


def _choose(page: Page, files: list[Path]) -> None:
    page.locator("input[type=file]").set_input_files([str(file) for file in files])


def test_from_an_empty_store_over_a_mistake_to_a_rate(own, watch, keep_picture, tmp_path: Path) -> None:
    watched = watch()
    page = watched.page
    page.goto(own.url)
    expect(page.get_by_role("heading", level=1)).to_have_text(words.WELCOME_TITLE, timeout=60_000)
    keep_picture(page, "welcome-light-1280")
    page.get_by_role("button", name=words.WELCOME_BRING).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(words.PAGE_RECORDS)

    _choose(page, _lay_out(tmp_path / "first", BAD))
    expect(page.get_by_text(words.REJECTED_HEADING, exact=True).first).to_be_visible()
    rows = page.locator(".pw-table tbody tr")
    # 39 + 1 + 3 + 2 + 3 = 48 outcomes of 40 eggs; and there is no pen Brich.
    sums, unknown = rows.nth(0).inner_text(), rows.nth(1).inner_text()
    assert re.search(r"trays, row 2, .*hatched.*eggs_set", sums)
    assert "trays, row 3, pen" in unknown
    assert "Brich" in unknown
    keep_picture(page, "rejected-light-1280")
    assert not (tmp_path / "own.duckdb").exists()

    page.reload()
    expect(page.get_by_role("heading", level=1)).to_have_text(words.PAGE_RECORDS, timeout=30_000)
    _choose(page, _lay_out(tmp_path / "second", GOOD))
    page.get_by_role("button", name=words.KEEP).click()
    expect(page.get_by_text("6 rows added, 0 corrected.")).to_be_visible()
    keep_picture(page, "kept-light-1280")
    page.get_by_role("button", name=words.KEPT_SEE).click()
    _month_is_there(page)
    # By hand: 31 + 1 + 27 = 59 chicks of 40 + 36 = 76 eggs: 77.6 %.
    answer = page.inner_text(".pw-first").replace("\u00a0", " ")
    assert "Of 76 Coturnix quail eggs" in answer or "Of 76 coturnix quail eggs" in answer
    assert "59 hatched: 78 % of set" in answer
    watched.assert_calls_nobody()
    assert watched.complaints == []


def test_empty_sheets_can_be_taken(own, watch, tmp_path: Path) -> None:
    page = watch().page
    page.goto(f"{own.url}/record-sheets")
    expect(page.get_by_role("heading", level=1)).to_have_text(words.PAGE_RECORDS, timeout=60_000)
    for label, name, start in (
        (words.BLANK_WORKBOOK, words.BLANK_WORKBOOK_FILE, b"PK"),
        (words.BLANK_TABLES, words.BLANK_TABLES_FILE, b"PK"),
    ):
        with page.expect_download() as taken:
            page.get_by_role("button", name=label).click()
        assert taken.value.suggested_filename == name
        taken.value.save_as(tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(start)


def test_the_example_is_one_button_away_and_left_by_another(own, watch, tmp_path: Path) -> None:
    watched = watch(390, "dark")
    page = watched.page
    page.goto(own.url)
    page.get_by_role("button", name=words.WELCOME_EXAMPLE).click(timeout=60_000)
    expect(page.get_by_text(words.EXAMPLE_BANNER)).to_be_visible(timeout=120_000)
    expect(page.get_by_text("In it, today is 31 October 2026.")).to_be_visible()
    _month_is_there(page)
    page.wait_for_url("**farm=example**")
    assert not (tmp_path / "own.duckdb").exists()
    page.get_by_role("button", name=words.EXAMPLE_LEAVE).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(words.WELCOME_TITLE)
    expect(page.get_by_text(words.EXAMPLE_BANNER)).to_have_count(0)
    watched.assert_calls_nobody()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["ctrl-c", "terminate"])
def test_it_stops_while_a_page_is_open(own, watch: Callable, number: signal.Signals) -> None:
    page = watch().page
    page.goto(own.url)
    expect(page.get_by_role("heading", level=1)).to_have_text(words.WELCOME_TITLE, timeout=60_000)
    asked = time.monotonic()
    own.job.send_signal(number)
    assert own.job.wait(timeout=20) == 0
    assert time.monotonic() - asked < 10
