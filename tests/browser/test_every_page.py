"""Every page in every look: no serious finding of axe-core, nothing too wide, and whole on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Page, expect

from dashboard import words

pytestmark = pytest.mark.browser
PAGES = ("", "one-hatch", "pens", "trends", "losses", "incubators", "changes", "breeders", "plan", "bench",
         "record-sheets", "sources")  # fmt: skip
LOOKS = [
    (light, contrast, width)
    for light, contrast in (("light", ""), ("dark", ""), ("light", "high"))
    for width in (1280, 390)
]
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
_FINDINGS = """
async () => (await axe.run(document, {resultTypes: ['violations']})).violations
    .filter(one => ['serious', 'critical'].includes(one.impact))
    .map(one => one.id + one.nodes.map(node => ` ${node.target} ${node.html.slice(0, 120)}`).join(" |"))
"""
_FITS = (
    "[document.documentElement, document.querySelector('[data-testid=stMain]')]"
    ".every(part => part.scrollWidth <= part.clientWidth)"
)
_PAPER = {"A4": 718, "Letter": 740}
"""Paper -> its width in pixels less two margins of 10 mm: 210 and 215.9 mm at 96 px to 25.4 mm."""
_PAGES_AT_LEAST = {"": 3, "one-hatch": 2, "losses": 3, "incubators": 2, "pens": 2}
"""Long pages are not cut off after the first sheet."""
_TOO_WIDE = """
width => [...document.querySelectorAll('svg.main-svg, .pw-map, .pw-table, .pw-strip, .pw-answer')]
    .filter(part => !part.closest('details:not([open])'))
    .filter(part => part.getBoundingClientRect().right > width + 1)
    .map(part => part.outerHTML.slice(0, 120))
"""


def _open(page: Page, url: str, settled: Callable[[Page], None]) -> None:
    page.goto(url)
    settled(page)


@pytest.mark.timeout(1500)
@pytest.mark.parametrize(("light", "contrast", "width"), LOOKS)
def test_no_serious_finding_and_nothing_wider_than_the_screen(
    demo, watch, settled, light: str, contrast: str, width: int
) -> None:
    page = watch(width, light).page
    for name in PAGES:
        _open(page, f"{demo.url}/{name}?contrast={contrast}", settled)
        page.evaluate(AXE)
        assert page.evaluate(_FINDINGS) == [], name
        assert page.evaluate(_FITS), name


@pytest.mark.timeout(1500)
@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_every_page_is_whole_on_paper(demo, watch, settled, paper: str) -> None:
    page = watch(1280, "dark").page
    for name in PAGES:
        _open(page, f"{demo.url}/{name}", settled)
        page.emulate_media(media="print")
        page.set_viewport_size({"width": _PAPER[paper], "height": 1000})
        page.wait_for_timeout(700)
        assert page.evaluate(_TOO_WIDE, _PAPER[paper]) == [], name
        for hidden in (".st-key-pages", '[data-testid="stSidebar"]', '[data-testid="stHeader"]'):
            expect(page.locator(hidden).locator("visible=true")).to_have_count(0)
        ink = page.locator("h1").evaluate("e => getComputedStyle(e).color")
        assert max(int(part) for part in re.findall(r"\d+", ink)) < 120, (name, ink)  # dark on light paper
        taken = page.pdf(format=paper, margin=dict.fromkeys(("left", "right", "top", "bottom"), "10mm"))
        assert len(re.findall(rb"/Type\s*/Page\b", taken)) >= _PAGES_AT_LEAST.get(name, 1), name
        page.emulate_media(media="screen")
        page.set_viewport_size({"width": 1280, "height": 900})


def test_the_readers_wishes_go_along_and_are_seen(demo, watch, settled) -> None:
    page = watch().page
    _open(page, f"{demo.url}/incubators?degrees=f&days=iso", settled)
    assert "°F" in page.inner_text("[data-testid=stMain]")
    page.get_by_role("link", name=words.PAGE_MONTH, exact=True).click()
    page.wait_for_url(re.compile(r"degrees=f"), timeout=60_000)
    settled(page)
    assert "days=iso" in page.url
    expect(page.get_by_text(re.compile(r"today is 2026-10-31"))).to_be_visible(timeout=60_000)


def test_a_computer_that_asks_for_high_contrast_gets_it(demo, browser, settled) -> None:
    context = browser.new_context(contrast="more", color_scheme="light")
    page = context.new_page()
    _open(page, f"{demo.url}/sources", settled)
    expect(page.locator(".stApp")).to_have_css("background-color", "rgb(255, 255, 255)", timeout=60_000)
    expect(page.locator("h1")).to_have_css("color", "rgb(0, 0, 0)")
    context.close()


def test_the_month_answers_under_its_name(demo, watch, settled) -> None:
    page = watch().page
    _open(page, f"{demo.url}/this-month", settled)
    expect(page.get_by_role("heading", level=1)).to_have_text("October 2026", timeout=60_000)
