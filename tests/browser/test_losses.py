"""The page of losses in a real browser: it fits, its stripes are read, moved in and pressed."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from dashboard import words, words_losses, words_records

pytestmark = pytest.mark.browser
WIDTHS_AND_LIGHTS = [(width, light) for width in (1280, 390) for light in ("light", "dark")]
FITS = (
    "[document.documentElement, document.querySelector('[data-testid=stMain]')]"
    ".every(part => part.scrollWidth <= part.clientWidth)"
)
FOCUSED = "document.activeElement.getAttribute('aria-label')"


def _is_answered(page: Page) -> None:
    expect(page.get_by_role("heading", name=words_losses.MADE_HEADING)).to_be_visible(timeout=150_000)
    expect(page.get_by_role("grid")).to_be_visible(timeout=30_000)
    expect(page.get_by_role("figure")).to_have_count(2)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0)
    at_rest = page.locator("[data-testid=stApp][data-test-script-state=notRunning]")
    expect(at_rest).to_be_visible(timeout=150_000)
    page.wait_for_timeout(300)
    expect(at_rest).to_be_visible(timeout=60_000)


@pytest.mark.parametrize(("width", "light"), WIDTHS_AND_LIGHTS)
def test_whose_loss_it_is_of_the_demo(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(f"{demo.url}/losses")
    _is_answered(page)
    assert re.search(r"\d+ short of your aim of 75 %", page.inner_text(".pw-first").replace("\u00a0", " "))
    assert all(figure.get_attribute("aria-label") for figure in page.get_by_role("figure").all())
    assert page.evaluate(FITS)
    keep_picture(page, f"losses-{light}-{width}")
    watched.assert_calls_nobody()
    assert watched.complaints == []


def test_a_press_on_a_mark_shows_its_trays_and_they_can_be_taken(demo, watch, tmp_path: Path) -> None:
    watched = watch()
    page = watched.page
    page.goto(f"{demo.url}/losses?stripes=fertile")
    _is_answered(page)
    mark = page.locator(".pw-map tbody button[data-pen='Hazel'][data-batch]").last
    batch, label = mark.get_attribute("data-batch"), mark.get_attribute("aria-label")
    assert batch
    assert label
    mark.scroll_into_view_if_needed()
    mark.hover()
    expect(page.locator(".pw-map-says")).to_have_text(label)
    mark.click()
    window = page.get_by_role("dialog")
    expect(window.get_by_role("heading", name=f"Trays of Hazel in batch {batch}")).to_be_visible()
    rows = window.get_by_role("row")
    expect(rows.nth(1)).to_contain_text("Hazel")
    assert all(batch in row.inner_text() for row in rows.all()[1:])
    window.get_by_role("button", name=words_losses.DOWNLOAD_TRAYS).click()
    with page.expect_download() as taken:
        page.get_by_role("button", name=words.TAKE_AS["csv"], exact=True).click()
    taken.value.save_as(tmp_path / "trays.csv")
    told = list(csv.DictReader((tmp_path / "trays.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert len(told) == rows.count() - 1
    assert {(row["pen"], row["batch"]) for row in told} == {("Hazel", batch)}
    window.get_by_role("combobox", name=words_losses.RECORD).click()
    page.get_by_role("option").first.click()
    expect(window.get_by_text(words_records.ROW_UNCHANGED)).to_be_visible()
    expect(window.get_by_role("row", name=re.compile("^pen Hazel"))).to_be_visible()
    page.keyboard.press("Escape")
    expect(window).to_have_count(0)
    assert watched.complaints == []


def test_the_keyboard_moves_among_the_marks_and_asks_for_trays(demo, watch) -> None:
    page = watch().page
    page.goto(f"{demo.url}/losses")
    _is_answered(page)
    stop = page.locator(".pw-map button[tabindex='0']")
    expect(stop).to_have_count(1)
    page.get_by_role("combobox", name=words_losses.FILTER_WINDOW).focus()
    for _ in range(4):
        page.keyboard.press("Tab")
        if page.evaluate("!!document.activeElement.closest('.pw-map')"):
            break
    else:
        pytest.fail("Tab does not reach the map")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Home")
    pen = page.evaluate(FOCUSED)
    assert ", all batches shown: " in pen
    page.keyboard.press("End")
    assert page.evaluate(FOCUSED) != pen
    assert ", batch " in page.evaluate(FOCUSED)
    expect(stop).to_have_count(1)
    expect(page.locator(".pw-map-says")).to_have_text(page.evaluate(FOCUSED))
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()
    mark = page.locator(".pw-map-says").inner_text()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    page.wait_for_function(f"label => {FOCUSED} === label", arg=mark)


def test_on_a_phone_the_map_scrolls_in_its_frame_and_the_pens_names_stay(demo, watch) -> None:
    page = watch(390).page
    page.goto(f"{demo.url}/losses")
    _is_answered(page)
    frame, name = page.locator(".pw-map-frame"), page.locator(".pw-map-name", has_text="Hazel")
    before = name.bounding_box()
    assert before
    assert frame.evaluate("e => e.scrollWidth > e.clientWidth")
    expect(page.get_by_text(words_losses.MAP_SLIDE)).to_be_visible()
    touched = page.locator(".pw-map tbody td button").first.bounding_box()
    assert touched
    assert min(touched["width"], touched["height"]) >= 44
    frame.evaluate("e => { e.scrollLeft = e.scrollWidth }")
    page.wait_for_timeout(300)
    after = name.bounding_box()
    assert after
    assert after["x"] == before["x"]
    assert 0 <= after["x"] < 60
    assert page.evaluate(FITS)


def test_older_batches_can_be_shown_and_the_map_is_told_in_words(demo, watch) -> None:
    page = watch().page
    page.goto(f"{demo.url}/losses")
    _is_answered(page)
    said = page.get_by_role("grid").get_attribute("aria-label")
    assert said
    assert "Along pens: " in said
    assert "Hazel" in said
    latest = page.locator(".pw-map-batch").all_inner_texts()
    choice = page.get_by_role("combobox", name=words_losses.FILTER_WINDOW)
    choice.scroll_into_view_if_needed()
    page.wait_for_timeout(800)  # a list closes when the page moves beneath it
    choice.click()
    page.get_by_role("option").nth(1).click()
    expect(page.locator(".pw-map-batch").first).not_to_have_text(latest[0])
    assert not set(latest) & set(page.locator(".pw-map-batch").all_inner_texts())


def test_the_printed_map_keeps_its_marks(demo, watch) -> None:
    page = watch().page
    page.goto(f"{demo.url}/losses")
    _is_answered(page)
    page.emulate_media(media="print")
    mark = page.locator(".pw-map .pw-under").first
    assert mark.evaluate("e => getComputedStyle(e).printColorAdjust") == "exact"
    paper_a4_px = 718  # 210 mm less two margins of 10 mm, at 96 px to 25.4 mm
    page.set_viewport_size({"width": paper_a4_px, "height": 1000})
    page.wait_for_timeout(500)
    assert page.locator(".pw-map").evaluate("e => e.getBoundingClientRect().width") <= paper_a4_px
