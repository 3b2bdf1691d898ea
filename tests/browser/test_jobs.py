"""The five main jobs, end to end: review a month, two pens, whom to keep, did it work, what to set next."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from dashboard import words, words_breeders, words_month, words_plan

from .conftest import Running, running

pytestmark = pytest.mark.browser
LONG = 180_000


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """An invented smallholding of its own: the last job writes into it."""
    home = tmp_path_factory.mktemp("jobs")
    with running("demo", "--store", home / "demo.duckdb", home=home) as program:
        yield program


def test_the_month_is_reviewed_and_taken_away_to_print(
    farm, watch, browser, settled, keep_picture, tmp_path: Path
) -> None:
    watched = watch()
    page = watched.page
    page.goto(farm.url)
    settled(page)
    expect(page.locator(".pw-first")).to_have_text("Look at Hazel first.", timeout=LONG)
    button = page.get_by_role("button", name=words_month.TAKE_PAGE, exact=True)
    expect(button).to_be_visible(timeout=LONG)
    with page.expect_download(timeout=LONG) as taken:
        button.click()
    taken.value.save_as(tmp_path / "month.html")
    watched.assert_calls_nobody()
    alone = browser.new_context(offline=True)
    printed = alone.new_page()
    asked: list[str] = []
    printed.on("request", lambda request: asked.append(request.url))
    printed.goto((tmp_path / "month.html").as_uri())
    expect(printed.get_by_role("heading", level=1)).to_be_visible()
    assert "Hazel" in printed.inner_text("body")
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    alone.close()
    keep_picture(page, "job-review")


def test_two_pens_are_set_side_by_side(farm, watch, settled, keep_picture) -> None:
    page = watch(390).page
    page.goto(f"{farm.url}/pens?measure=fertility")
    settled(page)
    for pen in ("Hazel", "Alder"):
        page.get_by_role("button", name=pen, exact=True).first.click()
        settled(page)
    expect(page.get_by_text("Hazel's fertility is").first).to_be_visible(timeout=LONG)
    expect(page).to_have_url(re.compile("Hazel"))
    keep_picture(page, "job-pens")


def test_whom_to_keep_and_why(farm, watch, settled, keep_picture, tmp_path: Path) -> None:
    page = watch().page
    page.goto(f"{farm.url}/breeders")
    expect(page.get_by_text("Hazel: replace", exact=True).first).to_be_visible(timeout=LONG)
    settled(page)
    assert "Replace" in page.get_by_role("row", name=re.compile("^Hazel")).inner_text()
    assert page.get_by_role("row", name=re.compile("Replace")).count() == 1
    page.get_by_role("button", name=words_breeders.DOWNLOAD).first.click()
    with page.expect_download(timeout=LONG) as taken:
        page.get_by_role("button", name=words.TAKE_AS["csv"], exact=True).click()
    taken.value.save_as(tmp_path / "breeders.csv")
    assert "Hazel" in (tmp_path / "breeders.csv").read_text(encoding="utf-8-sig")
    keep_picture(page, "job-breeders")


def test_whether_a_change_worked(farm, watch, settled, keep_picture) -> None:
    page = watch().page
    page.goto(f"{farm.url}/changes")
    settled(page)
    row = page.get_by_role("radiogroup").get_by_text("new male (Cedar)")
    expect(row).to_be_visible(timeout=LONG)
    row.click()
    settled(page)
    expect(page.get_by_text(re.compile("New male from 6 December 2025")).first).to_be_visible(timeout=LONG)
    keep_picture(page, "job-changes")


def test_the_next_set_is_planned_and_comes_back_as_records(
    farm, watch, settled, keep_picture, tmp_path: Path
) -> None:
    page = watch().page
    page.goto(f"{farm.url}/plan")
    settled(page)
    expect(page.get_by_text(re.compile("Put 9 eggs of Maple into Flint")).first).to_be_visible(timeout=LONG)
    files = []
    for label, name in ((words_plan.BATCHES, "batches.csv"), (words_plan.TRAYS, "trays.csv")):
        with page.expect_download(timeout=LONG) as taken:
            page.get_by_role("button", name=label, exact=True).click()
        taken.value.save_as(tmp_path / name)
        files.append(str(tmp_path / name))
    keep_picture(page, "job-plan")
    page.goto(f"{farm.url}/record-sheets")
    settled(page)
    page.locator("input[type=file]").first.set_input_files(files)
    keep = page.get_by_role("button", name=words.KEEP)
    expect(keep).to_be_visible(timeout=LONG)
    keep.click()
    expect(page.get_by_text(re.compile(r"11 rows added, 0 corrected\.")).first).to_be_visible(timeout=LONG)
