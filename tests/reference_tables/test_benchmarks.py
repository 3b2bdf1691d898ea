"""Published figures of a hatch against what the sources print, with the base each is a share of."""

from __future__ import annotations

import pytest

from analytics.reference.benchmarks import benchmarks_of, benchmarks_table
from analytics.reference.sources import source_table
from analytics.reference.species import species_table


@pytest.mark.parametrize(
    ("species", "measure", "source", "base", "low", "high"),
    [
        # Maiduguri, Nigerian J. Anim. Prod., 1,850 eggs (SEEN); the product .7433 x .6909 is its .5135
        ("coturnix_quail", "hatch_of_set", "maiduguri_quail", "of set", 0.5135, 0.5135),
        ("coturnix_quail", "fertility", "maiduguri_quail", "of set", 0.7433, 0.7433),
        ("coturnix_quail", "hatch_of_fertile", "maiduguri_quail", "of fertile", 0.6909, 0.6909),
        ("coturnix_quail", "early_loss", "maiduguri_quail", "of fertile", 0.1025, 0.1025),
        ("coturnix_quail", "late_loss", "maiduguri_quail", "of fertile", 0.123, 0.123),
        # shell-colour study, R. Bras. Zootec. (SEEN): fertility 92, hatch of fertile 83-84, of set 77 %
        ("coturnix_quail", "hatch_of_set", "shell_colour_study", "of set", 0.77, 0.77),
        ("coturnix_quail", "hatch_of_fertile", "shell_colour_study", "of fertile", 0.83, 0.84),
        # Butcher & Nilipour, UF VM101 (SEEN): 85 per 100 set optimal, 81-82 common
        ("chicken", "hatch_of_set", "uf_vm101", "of set", 0.81, 0.85),
        # Mauldin's table in Salazar 2015, El Sitio Avicola (SEEN second hand): of set, by hen age
        ("chicken", "mid_loss", "salazar_2015", "of set", 0.004, 0.0045),
        ("chicken", "late_loss", "salazar_2015", "of set", 0.024, 0.038),
        # Ipek 2004 (SEEN, abstract): 1:2 to 1:3; Wilson, UF CIR1112 (SEEN): 1:12-1:15 light, 1:10-1:12 heavy
        ("coturnix_quail", "females_per_male", "ipek_2004", "females to a male", 2, 3),
        ("chicken", "females_per_male", "uf_cir1112", "females to a male", 10, 15),
        # Ernst et al., UC ANR 8134 (SEEN): days 5 to 7
        ("chukar", "candling_day", "uc_8134", "day of incubation", 5, 7),
    ],
)
def test_figures_stand_as_printed(
    species: str, measure: str, source: str, base: str, low: float, high: float
) -> None:
    (row,) = (row for row in benchmarks_of(species, measure) if row.source_id == source)
    assert (row.base, row.low, row.high) == (base, low, high)


def test_a_bird_without_a_figure_gets_none_of_another_bird() -> None:
    assert benchmarks_of("goose", "hatch_of_set") == ()
    assert benchmarks_of("chukar", "mid_loss") == ()
    # common practice, no source: a bird without a printed day is candled on days 7 to 10
    assert [(row.species, row.low, row.high) for row in benchmarks_of("goose", "candling_day")] == [
        ("any", 7, 10)
    ]


def test_every_row_has_a_bird_a_source_and_its_status() -> None:
    for row in benchmarks_table():
        assert row.species in {"any", *species_table()}
        assert source_table()[row.source_id].status is row.status
        assert row.low <= row.high
        assert row.base.startswith("of ") == (row.high <= 1)
