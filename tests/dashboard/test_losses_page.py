"""The page of losses: on an answer made by hand, on real small stores, and where there is nothing to say."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from page_reading import alts_of, bodies_of, downloads_of, text_of
from streamlit.testing.v1 import AppTest

from analytics.errors import DataTooThin
from analytics.studies.causes_records import Causes, Mark, NoAnswer
from analytics.studies.trays_behind import Behind, TraysFound
from dashboard import data, data_trays, words, words_losses
from dashboard.components import losses_trays
from dashboard.state import Filters
from seed_demo.build import build_demo

COUNTED = {"clear": 0, "early_dead": 0, "mid_dead": 0, "internal_pip": 0, "external_pip": 0, "rotten": 0,
           "cracked": 0, "not_opened": 0}  # fmt: skip
PENS = ("Alder", "Birch", "Cedar & Co")
MONTHS = range(1, 9)


@pytest.fixture
def farm(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three pens in eight batches of two machines; Alder leaves 12 of every 30 infertile. One has no eggs."""
    store = store_of(
        pens=[{"pen": pen, "species": "chicken"} for pen in PENS]
        + [{"pen": "Thorn", "species": "coturnix_quail"}],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[
            {"batch": f"b{month}", "incubator": "North" if month % 2 else "South",
             "set_on": f"2026-{month:02}-01", "pulled_on": f"2026-{month:02}-23"}
            for month in MONTHS
        ],
        trays=[
            {"batch": f"b{month}", "tray": pen, "pen": pen, "eggs_set": 30, "hatched": 30 - infertile - late,
             "infertile": infertile, "late_dead": late, "storage_days": 2 + (month + place) % 5, **COUNTED}
            for month in MONTHS
            for place, pen in enumerate(PENS)
            for infertile, late in ((12 if pen == "Alder" else 2 + (month + place) % 2, (month + place) % 3),)
        ],
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    return store


@pytest.fixture
def by_hand(farm: Path, made: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[Filters]:
    """The study answers what was made by hand; what it was asked is kept."""
    asked: list[Filters] = []

    def losses(_: data.Shown, filters: Filters, __: Callable[[float, str], None]) -> Causes:
        asked.append(filters)
        return made.make_causes(made.make_answer(), without=(NoAnswer("chukar", "It has too few eggs."),))

    def behind(_: data.Shown, __: Filters, species: str, which: Behind, most: int | None) -> TraysFound:
        assert species == "coturnix_quail"
        return made.found_trays(which, most)

    monkeypatch.setattr(data, "losses", losses)
    monkeypatch.setattr(data_trays, "behind", behind)
    return asked


def _losses() -> None:
    from dashboard.pages import losses

    losses.show()


def _page(**link: str | list[str]) -> AppTest:
    page = AppTest.from_function(_losses, default_timeout=120)
    for field, value in link.items():
        page.query_params[field.strip("_")] = value
    return page.run()


def test_the_sentence_comes_first_then_pictures_stripes_findings_and_how(by_hand: list[Filters]) -> None:
    page = _page()
    assert not page.exception
    assert page.title[0].value == words_losses.TITLE
    assert "pw-first'>740 chicks of 1,000 eggs: 60 short of your aim of 80" in bodies_of(page)[0]
    assert bodies_of(page)[1].count("<li>") == 2
    assert [header.value for header in page.header] == [
        words_losses.STEPS_HEADING,
        words_losses.SHARES_HEADING,
        words_losses.MAP_HEADING,
        words_losses.FINDINGS_HEADING,
        words_losses.APART_HEADING,
        words_losses.CLEARS_HEADING,
        words_losses.NUMBERS_HEADING,
        words_losses.MADE_HEADING,
    ]
    assert len(alts_of(page)) == 2
    assert all(alts_of(page))


def test_every_part_of_the_answer_is_on_the_page(by_hand: list[Filters]) -> None:
    text = text_of(_page())
    for said in (
        "Eggs followed 1,000 32 trays, 8 batches",
        "Wanted 800 80 %, your own aim",
        "Short of the mark 60 chicks",
        "your own aim in the sheet targets.",
        "3 trays with 90 eggs could not be followed",
        "The part of season in words.",
        "Strong evidence. Flock, infertile, February 2026 to March 2026 Hazel lost fertility from February",
        "Look at the male of the pen.",
        "A hint. Handling, dead early Eggs stored long die early.",
        "Pen and incubator: 7 chicks (\N{MINUS SIGN}3 to 18)",
        "What would settle it: Set 12 eggs of Alder in Slate.",
        "up to 9 of them may be early death",
        "24 fresh eggs opened",
        "Rotten eggs can burst",
        "Learnt from 32 trays of 8 batches.",
        "Late: the fit was slow to settle.",
        "Diet has no part: all pens had one.",
        "Chukar: It has too few eggs.",
    ):
        assert said in text, said


def test_the_mark_is_said_once_with_its_source() -> None:
    own = Mark(0.8, "own", "your own aim in the sheet targets")
    rule = Mark(0.75, "rule", "a rule of thumb without a source, 75 % of set: no aim is written down")
    said = "The mark: 80 % of set less cracked, your own aim in the sheet targets."
    assert words_losses.mark_line(own) == said
    assert words_losses.mark_line(rule).count("75 %") == 1


def test_clear_eggs_are_shared_out_pen_by_pen(by_hand: list[Filters]) -> None:
    rows = [re.sub(r"<[^>]+>", " ", row) for row in re.findall(r"<tr.*?</tr>", " ".join(bodies_of(_page())))]
    birch = next(row for row in rows if "Birch" in row and "11 to 20" in row)
    # By hand: 0 to 9 of 20 clear eggs died early.
    assert "0\N{EN DASH}45" in birch


def test_a_wish_is_asked_of_the_study_and_in_the_link(by_hand: list[Filters]) -> None:
    page = _page()
    page.number_input("target").set_value(62.5).run()
    assert not page.exception
    assert by_hand[-1].target == 62.5
    assert page.query_params == {"target": "62.5"}
    assert _page(target="62.5").number_input("target").value == 62.5


def test_a_wish_that_cannot_be_is_left_out_and_said(by_hand: list[Filters]) -> None:
    page = _page(target="900")
    assert by_hand[-1].target is None
    assert words.bad_target_in_link("900") in text_of(page)


def test_the_stripes_can_be_of_one_step(by_hand: list[Filters]) -> None:
    page = _page(stripes="fertile")
    assert page.selectbox("stripes").value == "fertile"
    assert "Stripes of fertile eggs: 4 pens by 8 batches of 2 machines." in text_of(page)
    page.selectbox("stripes").select("all").run()
    assert "Stripes of chicks, the whole way: 4 pens by 8 batches" in text_of(page)
    assert page.query_params == {}


def test_a_step_without_stripes_shows_the_whole_way(by_hand: list[Filters]) -> None:
    page = _page(stripes="late")
    assert not page.exception
    assert page.selectbox("stripes").value == "all"


def test_the_trays_of_a_step_are_listed_those_that_lost_most_first(
    by_hand: list[Filters], made: ModuleType
) -> None:
    page = _page()
    page.button("trays of fertile").click().run()
    assert not page.exception
    text = text_of(page)
    assert "32 trays with 960 eggs set" in text
    table = next(body for body in reversed(bodies_of(page)) if "pw-table" in body)
    # By hand: the weak pen's trays have 9 infertile eggs of 30, more than any other.
    assert html.escape(made.WEAK_PEN) in table.split("</tr>")[1]
    assert words_losses.DOWNLOAD_TRAYS in downloads_of(page)


def test_the_trays_behind_a_finding_are_those_of_its_pen_and_months(
    by_hand: list[Filters], made: ModuleType
) -> None:
    page = _page()
    page.button("trays of finding 0").click().run()
    assert not page.exception
    # By hand: of the 8 batches, set weekly from 6 January and hatched 18 days later, all but the first two
    # (24 and 31 January) hatched in February or March: 6 trays of 30 eggs with 19 chicks each.
    assert "6 trays with 180 eggs set and 114 chicks." in text_of(page)
    page.button("trays of finding 1").click().run()
    assert "trays with" in text_of(page)


def test_a_finding_that_stands_in_no_tray_has_no_trays(made: ModuleType) -> None:
    answer = made.make_answer()
    storage = answer.findings[2]
    assert losses_trays.of_finding(storage, answer) == Behind(step="early", stored=True)
    age = replace(storage, item=replace(storage.item, factor="hen_age"))
    assert losses_trays.of_finding(age, answer) is None


def test_trays_can_be_chosen_from_lists_too(by_hand: list[Filters]) -> None:
    page = _page()
    page.selectbox("trays pen").select("Alder")
    page.selectbox("trays batch").select("Q003")
    page.button("trays show").click().run()
    assert not page.exception
    assert "1 tray with 30 eggs set and 26 chicks." in text_of(page)
    assert "Q003, tray 1" in text_of(page)


def _window() -> None:
    from analytics.studies.trays_behind import Behind
    from dashboard import data, data_trays
    from dashboard.components import losses_trays
    from dashboard.state import Filters

    which = data.shown()
    assert which
    behind = Behind(pens=("Hazel",), step="fertile")
    found = data_trays.behind(which, Filters(), "coturnix_quail", behind, 100)
    losses_trays.listed(which, found, behind, list)


def _cells(page: AppTest) -> list[list[str]]:
    rows = re.findall(r"<tr.*?</tr>", " ".join(bodies_of(page)))
    return [re.sub(r"<[^>]+>", " ", row).split() for row in rows]


def test_the_record_of_a_tray_is_shown_as_it_was_written_down(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    build_demo(tmp_path / "demo.duckdb")
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "demo.duckdb"))
    page = AppTest.from_function(_window, default_timeout=60).run()
    listed = next(row for row in _cells(page) if "Hazel" in row)
    record = page.selectbox[0]
    assert record.label == words_losses.RECORD
    record.select(record.options[0]).run()
    assert not page.exception
    # The list comes from the study, the record from the store's history: both tell of the same row.
    told = {row[0]: row[1] for row in _cells(page) if len(row) == 2}
    assert (told["batch"], told["pen"]) == (listed[0].rstrip(","), "Hazel")
    lost = [f"{told[word]} {word}" for word in ("infertile", "clear") if told.get(word, "0") != "0"]
    assert lost
    assert all(part in " ".join(listed) for part in lost)


def test_a_row_that_is_not_there_is_said_and_breaks_nothing(farm: Path) -> None:
    page = AppTest.from_function(_lost, default_timeout=60).run()
    page.selectbox[0].select("b1, tray 99").run()
    assert not page.exception
    assert words.TROUBLE_OTHER in text_of(page)


def _lost() -> None:
    from dataclasses import replace

    from analytics.studies.trays_behind import Behind
    from dashboard import data, data_trays
    from dashboard.components import losses_trays
    from dashboard.state import Filters

    which = data.shown()
    assert which
    found = data_trays.behind(which, Filters(), "chicken", Behind(batches=("b1",)), 1)
    lost = replace(found, rows=(replace(found.rows[0], tray="99"),))
    losses_trays.listed(which, lost, Behind(), list)


def test_the_trays_are_gone_with_the_next_choice(by_hand: list[Filters]) -> None:
    page = _page()
    page.button("trays of late").click().run()
    assert words_losses.DOWNLOAD_TRAYS in downloads_of(page)
    page.selectbox("stripes").select("fertile").run()
    assert words_losses.DOWNLOAD_TRAYS not in downloads_of(page)


def test_a_step_is_told_for_whom_only_the_hatch_is_known(
    farm: Path, made: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dataclasses import replace

    from analytics.attribution.ledger import StepLine

    answer = replace(
        made.make_answer(stripes=(made.make_stripes(), made.make_stripes("hatch"))),
        steps=(StepLine("hatch", 1000.0, 260.0, 230.0),),
        findings=(),
        cannot_separate=(),
    )
    monkeypatch.setattr(data, "losses", lambda *_: made.make_causes(answer))
    monkeypatch.setattr(data_trays, "behind", lambda *asked: made.found_trays(*asked[3:]))
    page = _page()
    assert not page.exception
    assert "did not hatch 260 of 1,000 eggs, typical trays 230" in alts_of(page)[0]
    assert words_losses.FINDINGS_NONE in text_of(page)
    assert words_losses.APART_NONE in text_of(page)
    page.button("trays of hatch").click().run()
    assert not page.exception


def test_several_birds_are_chosen_between(
    farm: Path, made: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    both = made.make_causes(made.make_answer("chicken"), made.make_answer("coturnix_quail"))
    monkeypatch.setattr(data, "losses", lambda *_: both)
    page = _page()
    assert page.selectbox("bird").options == ["Chicken", "Coturnix quail"]
    page.selectbox("bird").select("coturnix_quail").run()
    assert not page.exception
    assert page.query_params == {"bird": "coturnix_quail"}
    assert _page(bird="coturnix_quail").selectbox("bird").value == "coturnix_quail"


def test_a_real_answer_names_the_pen_that_leaves_eggs_infertile(farm: Path) -> None:
    page = _page()
    assert not page.exception
    text = text_of(page)
    # By hand: 24 trays of 30 eggs.
    assert "Eggs followed 720 24 trays, 8 batches" in text
    assert "Alder" in bodies_of(page)[0] + bodies_of(page)[1]
    assert "fewer in 8 of 8 batches" in text
    page.button("trays of fertile").click().run()
    assert not page.exception
    assert "24 trays with 720 eggs set" in text_of(page)


def test_an_answer_is_kept_until_the_records_change(farm: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _page()
    monkeypatch.setattr(data, "causes", lambda *_, **__: pytest.fail("worked out again"))
    assert not _page().exception


def test_an_empty_store_shows_how_to_begin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "none.duckdb"))
    page = _page()
    assert not page.exception
    assert page.title[0].value == words.WELCOME_TITLE


def test_batches_that_have_not_hatched_are_said(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = store_of(
        pens=[{"pen": "Alder", "species": "chicken"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "b1", "incubator": "North", "set_on": "2026-03-01"}],
        trays=[{"batch": "b1", "tray": "1", "pen": "Alder", "eggs_set": 30}],
    )
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert not page.exception
    assert page.title[0].value == words.MONTH_NONE_TITLE


def test_too_few_records_are_a_sentence_and_no_picture(farm: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> Causes:
        raise DataTooThin("No tray has what became of its eggs", "Losses need that", "Write it down")

    monkeypatch.setattr(data, "losses", refuse)
    page = _page()
    assert not page.exception
    assert words_losses.TOO_THIN in text_of(page)
    assert "No tray has what became of its eggs" in text_of(page)
    assert alts_of(page) == []


def test_one_batch_of_one_pen_is_answered_or_refused_in_words(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = store_of(
        pens=[{"pen": "Alder", "species": "chicken"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "b1", "incubator": "North", "set_on": "2026-03-01", "pulled_on": "2026-03-23"}],
        trays=[{"batch": "b1", "tray": "1", "pen": "Alder", "eggs_set": 6, "hatched": 4, "infertile": 2,
                "late_dead": 0, **COUNTED}],
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert not page.exception
    assert page.title[0].value == words_losses.TITLE
    assert words_losses.TOO_THIN in text_of(page) or "Eggs followed 6" in text_of(page)
