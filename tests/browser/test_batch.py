"""The page of one batch in a real browser: it fits, its pictures have words, and a link leads to a batch."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from dashboard import words_batch

pytestmark = pytest.mark.browser
FITS = (
    "[document.documentElement, document.querySelector('[data-testid=stMain]')]"
    ".every(part => part.scrollWidth <= part.clientWidth)"
)


@pytest.mark.parametrize(("width", "light"), [(1280, "light"), (390, "light"), (390, "dark")])
def test_one_hatch_of_the_demo(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(f"{demo.url}/one-hatch?batch=q102")
    expect(page.get_by_role("heading", level=1)).to_have_text("Batch Q102", timeout=60_000)
    expect(page.get_by_role("button", name=words_batch.TO_LOSSES)).to_be_visible(timeout=60_000)
    expect(page.get_by_role("figure")).to_have_count(2)
    assert all(figure.get_attribute("aria-label") for figure in page.get_by_role("figure").all())
    assert page.evaluate(FITS)
    keep_picture(page, f"one-hatch-{light}-{width}")
    watched.assert_calls_nobody()
    assert watched.complaints == []


def test_a_batch_is_chosen_by_the_keyboard_and_the_link_follows(demo, watch, settled) -> None:
    page = watch().page
    page.goto(f"{demo.url}/one-hatch")
    settled(page)
    choice = page.get_by_role("combobox", name=words_batch.CHOOSE)
    choice.focus()
    choice.press_sequentially("Q101")
    expect(page.get_by_role("option").first).to_contain_text("Q101")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Batch Q101", timeout=60_000)
    expect(page).to_have_url(f"{demo.url}/one-hatch?batch=Q101")
