"""The page to print, read back as a browser would: what it says, and that it asks for nothing."""

from __future__ import annotations

import re
from datetime import date
from html.parser import HTMLParser

import pytest

from analytics.measures.counts import Families, LadderCounts, Stages
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.reports.month_html import code_words, review_page
from analytics.studies.records import DataGap, MonthReview, OpenBatch, PenMonth, Rates, SpeciesMonth
from analytics.values import Month, Used

MARCH = Month(2026, 3)
VOID = {"meta", "line", "rect", "circle", "br"}
NASTY = "<script>alert(1)</script>"


def _day(number: int) -> date:
    return date(2026, 3, number)


class Page(HTMLParser):
    """Tags with their attributes, text by the tag around it, and whether tags close in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text: list[tuple[str, str]] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.text.append((self.open[-1], " ".join(data.split())))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]

    def said(self) -> str:
        return " ".join(words for tag, words in self.text if tag != "style")


def _rates(eggs: int, hatched: int, clear: int = 0) -> Rates:
    counts = LadderCounts(
        used=Used(4, 2, 1),
        eggs_set=eggs,
        hatched=hatched,
        opened=Stages(infertile=eggs - hatched - clear - eggs // 10, clear=clear, late=eggs // 10),
        opened_squares=eggs - hatched,
        tray_squares=eggs**2 / 4,
        batch_squares=eggs**2 / 2,
    )
    return rates(Families(counts, counts, counts, counts, counts), {})


def _review(pen: str = "Rowan") -> MonthReview:
    quail = SpeciesMonth(
        species="coturnix_quail",
        eggs_set=210,
        chicks=150,
        batches=2,
        rates=_rates(200, 150, clear=20),
        months_before=tuple((MARCH.back(n), _rates(100 + n, 70) if n % 2 else {}) for n in range(12, 0, -1)),
        pens=(
            PenMonth(pen, 120, 100, _rates(120, 100), _rates(900, 700)),
            PenMonth("Alder", 90, 50, _rates(80, 50, clear=20), {}),
        ),
        targets={"hatch_of_set": 0.8},
        before=_rates(600, 420),
    )
    return MonthReview(
        month=MARCH,
        selection=Selection(pens=(pen, "Alder")),
        headline=("First sentence.", f"Second of {pen}."),
        species=(quail,),
        open_batches=(
            OpenBatch("B7", "North", ("chicken",), 30, _day(1), _day(17), _day(19), 4),
            OpenBatch("B8", "North", (), 0, _day(2), None, None, 0),
        ),
        data_gaps=(DataGap("Missing: 12 trays.", tuple(f"B1 / {n}" for n in range(10)), 12, "Write it."),),
        months=(MARCH,),
        as_of=_day(23),
    )  # fmt: skip


@pytest.fixture(scope="module")
def page() -> Page:
    return Page(review_page(_review()))


def test_tags_close_in_order_and_nothing_is_left_open(page: Page) -> None:
    assert page.open == []


def test_it_asks_for_nothing_and_runs_nothing() -> None:
    text = review_page(_review())
    assert not re.search(
        r"https?://|//[a-z]|url\(|@import|<script|<link|<img|<iframe|javascript:| on\w+=", text
    )


def test_it_says_the_numbers_with_what_they_are_shares_of(page: Page) -> None:
    said = page.said()
    for words in (
        "March 2026",
        "First sentence.",
        "Second of Rowan.",
        "210 eggs set in 2 batches, 150 chicks hatched (kept or not); 10 of the eggs are without a hatch",
        "Alder 90 10 not counted 50",
        "is mostly assumed for the ranges: the store is still small.",
        "of 200 set 75 %",  # the table's share and this month's rate
        "your aim 80 %",
        "4 days past 19 Mar 2026",
        "not known",
        "Missing: 12 trays.",
        "B1 / 9 and 2 more",
        "Only pens Rowan and Alder.",
        "Records as of 23 March 2026.",
    ):
        assert words in said, words


@pytest.mark.parametrize(
    "row",
    [
        # Rowan: 120 set, 100 hatched, 12 dead late, 8 infertile; the year before 700 of 900
        r"Rowan 120 100 83 % \S+ % 78 % \S+ % 93 % \S+ % 89 % \S+ %",
        # this month: 20 of 200 clear; before: 600 set, 420 hatched, 60 dead late, 120 infertile
        r"Hatch of set of 200 set 75 % \S+ % 70 % \S+ % 80 %",
        r"Fertility of set less cracked, 200 set – \S+ % 80 % \S+ % –",
        # eleven months before: 111 set, 70 hatched, 11 dead late, 30 infertile
        r"Apr 2025 111 63 % \S+ % 111 73 % \S+ % 86 % \S+ %",
    ],
)
def test_every_cell_stands_in_its_column(row: str) -> None:
    rows = re.findall(r"<tr>(.*?)</tr>", review_page(_review()), re.DOTALL)
    said = [" ".join(re.sub(r"<[^>]+>", " ", cells).split()) for cells in rows]
    assert [words for words in said if re.fullmatch(row, words)], said


def test_every_table_has_a_caption_and_scoped_headings(page: Page) -> None:
    tables = len(page.named("table"))
    assert tables == 4
    assert len(page.named("caption")) == tables
    assert {heading.get("scope") for heading in page.named("th")} == {"col", "row"}


def test_pictures_are_told_in_words(page: Page) -> None:
    pictures = page.named("svg")
    assert len(pictures) == 5
    assert {picture["role"] for picture in pictures} == {"img"}
    hatch = pictures[0]["aria-label"] or ""
    assert hatch.startswith("Hatch of set of Coturnix quail by month. ")
    assert "Mar 2026: 75 % of set (" in hatch
    assert "nothing recorded" in hatch


def test_labels_of_the_breeder_are_text_and_never_markup() -> None:
    text = review_page(_review(pen=NASTY))
    assert NASTY not in text
    assert Page(text).said().count(NASTY) >= 3


def test_the_month_asked_about_is_marked_by_its_shape(page: Page) -> None:
    squares = [rect for rect in page.named("rect") if rect["class"] == "now"]
    dots = [dot for dot in page.named("circle") if dot["class"] == "dot"]
    rings = [ring for ring in page.named("circle") if ring["class"] == "ring"]
    assert len(squares) == 1 + 2 + 1  # hatch of set by month; two pens; the pen whose fertility is known
    assert len(dots) == 6 * 3  # six months with eggs in three pictures
    assert len(rings) == 2  # Rowan's year in two pictures; Alder had none


def test_paper_and_night_have_their_own_colours_and_rows_are_not_cut() -> None:
    text = review_page(_review())
    for words in ("prefers-color-scheme: dark", "@media print", "@page", "break-inside: avoid"):
        assert words in text


def test_an_empty_month_is_a_page_too() -> None:
    empty = MonthReview(
        MARCH, Selection(), ("No batch has hatched yet in these records.",), (), (), (), (), date(2026, 3, 1)
    )
    page = Page(review_page(empty))
    said = page.said()
    assert "No batch has hatched yet in these records." in said
    assert "No batch is in a machine." in said
    assert "Nothing that these rates need is missing" in said
    assert page.named("table") == []


def test_names_of_columns_are_set_as_code() -> None:
    assert code_words("Write `hatched` & <b>") == "Write <code>hatched</code> &amp; &lt;b&gt;"


def test_it_says_only_what_the_reader_can_use(page: Page) -> None:
    assert "This version" not in page.said()
    assert "does not judge" not in page.said()


def test_on_paper_tables_go_on_over_the_page_and_pictures_can_be_read() -> None:
    """On A4 (text 180 mm wide) a picture of 480 units is 86 mm wide: 14 units are 2.5 mm, or 7 points."""
    text = review_page(_review())
    paper = text[text.index("@media print") :]
    assert not re.search(r"table \{[^}]*break-inside: avoid", paper)
    sizes = [float(size) for size in re.findall(r"\.picture [^{]*\{ font-size: ([\d.]+)px", paper)]
    assert len(sizes) >= 3
    assert min(sizes) / 480 * 86 / 25.4 * 72 >= 6.8
