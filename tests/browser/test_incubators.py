"""The page of incubators in a real browser: it answers, it fits, another machine can be asked for."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from dashboard import words_incubators

pytestmark = pytest.mark.browser
FITS = (
    "[document.documentElement, document.querySelector('[data-testid=stMain]')]"
    ".every(part => part.scrollWidth <= part.clientWidth)"
)


def _is_answered(page: Page) -> None:
    expect(page.get_by_role("heading", name=words_incubators.MADE_HEADING)).to_be_visible(timeout=150_000)
    expect(page.get_by_text(words_incubators.SIGNS_RULE)).to_be_visible(timeout=150_000)
    expect(page.get_by_role("figure")).to_have_count(3)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0)
    at_rest = page.locator("[data-testid=stApp][data-test-script-state=notRunning]")
    expect(at_rest).to_be_visible(timeout=150_000)
    page.wait_for_timeout(300)
    expect(at_rest).to_be_visible(timeout=60_000)


@pytest.mark.parametrize(("width", "light"), [(1280, "light"), (390, "dark")])
def test_the_demos_machines(demo, watch, keep_picture, width: int, light: str) -> None:
    watched = watch(width, light)
    page = watched.page
    page.goto(f"{demo.url}/incubators")
    _is_answered(page)
    said = page.inner_text(".pw-first")
    assert "Slate hatched about 1" in said
    assert "February to March 2026" in said
    assert all(figure.get_attribute("aria-label") for figure in page.get_by_role("figure").all())
    assert page.evaluate(FITS)
    keep_picture(page, f"incubators-{light}-{width}")
    page.get_by_role("radio", name="Flint").click()
    expect(page.get_by_role("figure").nth(1)).to_have_attribute(
        "aria-label", re.compile(r"^Flint, day by day\.")
    )
    watched.assert_calls_nobody()
    assert watched.complaints == []
