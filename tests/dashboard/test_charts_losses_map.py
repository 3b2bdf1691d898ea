"""The stripe map: a table of marks whose shape, shade and size are the record's."""

from __future__ import annotations

import html
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser
from types import ModuleType

import pytest

from analytics.studies.causes_records import StripeCell
from dashboard import charts_losses_map as drawing
from dashboard import words_losses
from dashboard.look import DAY
from dashboard.pictures_map import map_picture

BUTTON = re.compile(r"<button [^>]*>")


def _cell(eggs: float, came: float, expected: float, residual: float, pen: str = "Alder") -> StripeCell:
    return StripeCell(pen, "b1", eggs, came, expected, residual, False, ("1",))


class _Tags(HTMLParser):
    """Counts tags, and follows that every one that is opened is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)
        self.seen.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_a_total_adds_eggs_and_its_sd_is_that_of_independent_cells() -> None:
    # By hand: the sds are -4 / -2 = 2 and 3 / 1 = 3, so together -1 / sqrt(4 + 9).
    whole = drawing.total("Alder", [_cell(30, 20, 24, -2.0), _cell(40, 35, 32, 1.0)])
    assert (whole.cells, whole.below, whole.eggs, whole.came, whole.expected) == (2, 1, 70, 55, 56)
    assert whole.residual == pytest.approx(-1 / math.sqrt(13))


def test_cells_that_are_just_as_expected_make_no_stripe() -> None:
    assert drawing.total("Alder", [_cell(30, 24, 24, 0.0)]).residual == 0.0


def test_the_weak_pen_is_a_stripe_along_and_the_bad_batch_one_down(made: ModuleType) -> None:
    stripes = made.make_stripes()
    pens = drawing.by_pen(stripes, stripes.batches)
    batches = drawing.by_batch(stripes, stripes.batches)
    # By hand: 8 batches x (6 - 1.5) short, and 9.6 more in the bad one.
    assert pens[made.WEAK_PEN].difference == pytest.approx(-(8 * 4.5 + 9.6))
    assert (pens[made.WEAK_PEN].below, pens[made.WEAK_PEN].cells) == (8, 8)
    # By hand: two full pens 8.1 short, the weak one 14.1, and 8 of 30 eggs x 8.1.
    assert batches[made.BAD_BATCH].difference == pytest.approx(-(2 * 8.1 + 14.1 + 8.1 * 8 / 30))
    assert (batches[made.BAD_BATCH].below, batches[made.BAD_BATCH].cells) == (4, 4)
    assert min(pens, key=lambda pen: pens[pen].residual) == made.WEAK_PEN
    assert min(batches, key=lambda batch: batches[batch].residual) == made.BAD_BATCH


def test_machines_take_their_batches_together(made: ModuleType) -> None:
    stripes = made.make_stripes()
    machines = drawing.by_machine(stripes, stripes.batches)
    assert list(machines) == ["Flint", "Slate"]
    assert machines["Flint"].cells + machines["Slate"].cells == len(stripes.cells)


@pytest.mark.parametrize(
    ("residual", "few", "level"),
    [(0.0, False, 0), (-0.99, False, 0), (-1.0, False, 1), (2.0, False, 2), (-2.99, False, 2),
     (3.0, False, 3), (-9.0, True, 1), (0.5, True, 0)],
)  # fmt: skip
def test_strength_goes_with_the_distance_and_few_eggs_never_shout(
    residual: float, few: bool, level: int
) -> None:
    assert drawing.strength(residual, few=few) == level


def test_the_area_of_a_mark_goes_with_its_eggs() -> None:
    assert drawing.side(60) == drawing.side(500) == drawing.LARGEST
    assert drawing.side(15) == drawing.LARGEST / 2
    assert drawing.side(0.5) == drawing.SMALLEST


def test_the_direction_is_a_shape_and_not_only_a_colour() -> None:
    assert "pw-under pw-s2" in drawing.mark_html(-2.5, 30)
    assert "pw-over pw-s2" in drawing.mark_html(2.5, 30)
    assert "pw-near" in drawing.mark_html(0.2, 30)


def test_the_map_has_a_row_a_pen_a_column_a_batch_and_a_button_a_mark(made: ModuleType) -> None:
    stripes = made.make_stripes()
    drawn = drawing.map_html(stripes, stripes.batches, "said")
    tags = _Tags()
    tags.feed(drawn)
    assert tags.open == []
    assert tags.seen.count("tr") == 2 + 1 + len(stripes.pens)
    # Machines, batches, their totals, names and totals of the pens, and every cell with eggs: 4 x 8 less one.
    assert len(BUTTON.findall(drawn)) == 2 + 8 + 8 + 2 * 4 + 31
    assert drawn.count("role='grid'") == 1
    assert re.findall(r"colspan='(\d)' class='pw-map-machine'", drawn) == ["4", "4"]


def test_the_machine_of_most_pens_comes_first_and_its_batches_keep_their_order(made: ModuleType) -> None:
    stripes = made.make_stripes()
    of_slate = {one.batch for one in stripes.batches if one.machine == "Slate"}
    lone = next(cell.pen for cell in stripes.cells)
    fewer = replace(
        stripes, cells=tuple(one for one in stripes.cells if one.pen == lone or one.batch not in of_slate)
    )
    ordered = drawing.most_pens_first(fewer, fewer.batches)
    assert [one.machine for one in ordered] == ["Flint"] * 4 + ["Slate"] * 4
    own = [one for one in stripes.batches if one.machine == "Flint"]
    assert list(ordered[:4]) == own


def test_every_button_says_what_it_stands_for(made: ModuleType) -> None:
    stripes = made.make_stripes()
    drawn = drawing.map_html(stripes, stripes.batches, "said")
    labels = [html.unescape(label) for label in re.findall(r"<button [^>]*aria-label='([^']*)'", drawn)]
    assert len(labels) == len(BUTTON.findall(drawn))
    assert (
        "Hazel with a name that is very long, batch Q004 in Slate, hatched 14 Feb 2026: "
        "9.9 of 30 eggs came through, 24 expected: 14.1 fewer than expected"
    ) in labels
    assert any(label.startswith("Birch, batch Q004") and "too few eggs to judge" in label for label in labels)
    assert any("batch Q005 in Flint," in label for label in labels)


def test_a_batch_that_was_moved_names_both_machines(made: ModuleType) -> None:
    moved = next(one for one in made.make_batches(10) if one.batch == "Q010")
    assert words_losses.batch_label(moved, None) == "Batch Q010 in Slate, moved to Flint, hatched 28 Mar 2026"


def test_a_breeders_mark_up_is_no_mark_up_of_the_map(made: ModuleType) -> None:
    stripes = made.make_stripes()
    drawn = drawing.map_html(stripes, stripes.batches, "a 'said' & <b>")
    assert "<i>Cedar" not in drawn
    assert "data-pen='&lt;i&gt;Cedar &amp; Co&lt;/i&gt;'" in drawn
    assert "aria-label='a &#x27;said&#x27; &amp; &lt;b&gt;'" in drawn


def test_few_batches_are_one_window_and_many_are_cut_the_latest_first(made: ModuleType) -> None:
    assert drawing.windows(made.make_stripes()) == [made.make_stripes().batches]
    stripes = made.make_stripes(number=95)
    cut = drawing.windows(stripes)
    assert [len(one) for one in cut] == [36, 36, 23]
    assert {batch.batch for batch in cut[0]} == {f"Q{number:03}" for number in range(60, 96)}
    assert [batch.machine for batch in cut[0]] == ["Flint"] * 18 + ["Slate"] * 18
    assert {batch for one in cut for batch in one} == set(stripes.batches)
    assert words_losses.window_name(cut[0], latest=True) == "latest 36: Mar 2027 to Nov 2027"


def test_only_what_is_shown_is_summed(made: ModuleType) -> None:
    stripes = made.make_stripes(number=95)
    latest = drawing.windows(stripes)[0]
    assert drawing.by_pen(stripes, latest)[made.PENS[0]].cells == 36
    assert made.BAD_BATCH not in drawing.by_batch(stripes, latest)


def test_the_map_is_told_in_words_the_strong_stripes_first(made: ModuleType) -> None:
    stripes = made.make_stripes()
    said = words_losses.map_alt(
        stripes,
        drawing.by_pen(stripes, stripes.batches),
        drawing.by_machine(stripes, stripes.batches),
        drawing.by_batch(stripes, stripes.batches),
        drawing.BOUNDS[-1],
    )
    assert said.startswith("Stripes of chicks, the whole way: 4 pens by 8 batches of 2 machines.")
    assert f"Along pens: {made.WEAK_PEN} 46 fewer than expected, fewer in 8 of 8 batches." in said
    # By hand: 16.2 + 14.1 + 2.16 = 32.46.
    assert "Down batches: Q004 32 fewer than expected, fewer in 4 of 4 pens." in said


def test_a_wide_farm_is_drawn_whole(made: ModuleType) -> None:
    pens = tuple(f"Pen {number}" for number in range(30))
    stripes = made.make_stripes(pens=pens, number=150, machines=("Chalk", "Flint", "Slate"))
    shown = drawing.map_html(stripes, drawing.windows(stripes)[0], "said")
    assert shown.count("<tr") == 33
    assert len(shown) < 600_000
    assert drawing.map_html(stripes, stripes.batches, "said").count("pw-map-batch") == 150


def test_the_map_is_a_picture_file_with_its_names_and_a_mark_for_every_cell(made: ModuleType) -> None:
    shown = made.make_answer("chicken").stripes[0]
    drawn = map_picture(shown, shown.batches, "Chicks of eggs set", "svg", DAY)
    texts = ["".join(one.itertext()) for one in ET.fromstring(drawn).iter("{http://www.w3.org/2000/svg}text")]
    pens = {cell.pen for cell in shown.cells}
    assert {*pens, *(one.batch for one in shown.batches), *(one.machine for one in shown.batches)} <= set(
        texts
    )
    marks = [mark for mark in ET.fromstring(drawn).iter() if mark.get("id", "").startswith("line2d")]
    assert len(marks) >= len(shown.cells)
    assert map_picture(shown, shown.batches, "T", "png", DAY).startswith(b"\x89PNG")
