"""Species, their incubation periods and death classes, against the published figures."""

import pytest

from analytics.errors import WrongUsage
from analytics.reference.sources import READ_AS, Status, read_rows, source_table
from analytics.reference.species import death_classes_table, species_name, species_table, stage_words

# Extension chart "Important Incubation Factors" (Mississippi State Univ. Ext., P1182 line), read in a copy
# (SEEN second hand): days to hatch, day of transfer. The goose row prints 30 for the period.
CHART = {
    "coturnix_quail": ((17, 18), (15, 15)),
    "bobwhite_quail": ((23, 23), (21, 21)),
    "chicken": ((21, 21), (18, 18)),
    "duck": ((28, 28), (25, 25)),
    "muscovy_duck": ((35, 37), (31, 33)),
    "goose": ((30, 30), (27, 27)),
    "turkey": ((28, 28), (25, 25)),
    "guinea_fowl": ((28, 28), (25, 25)),
    "ring_necked_pheasant": ((24, 25), (21, 21)),
    "chukar": ((23, 24), (20, 20)),
    "peafowl": ((28, 29), (25, 26)),
    "pigeon": ((17, 19), (14, 14)),
    "swan": ((33, 37), None),
    "ostrich": ((42, 42), (39, 39)),
    "emu": ((49, 50), (47, 47)),
    "rhea": ((36, 42), None),
}

# The whole window that all sources together leave, in days. Where its ends come from:
# coturnix: 16 d (trade list, SEEN second hand), 441 h (S. Afr. J. Anim. Sci. 35(2):135-142, 2005, SEEN
# abstract); chicken: 486 h (Turk. J. Vet. Anim. Sci., article 5487, SEEN abstract), 21 d + 6 h (layer parent
# guide, SEEN); Muscovy: 33 (small-incubator list), 37 (chart); goose: 28 to 33 (trade list; about 33 also in
# Mississippi State Ext., SEEN); emu: 49 (chart), 52 (Hand-Rearing Birds, Wiley, Table 4.1, SEEN); painted
# quail: 17 d at 37.7 °C (Anim. Sci. J. 2019, SEEN abstract), 16 to 18 from memory; others: the three lists.
WINDOW = {
    "coturnix_quail": (16, 441 / 24),
    "bobwhite_quail": (23, 24),
    "chinese_painted_quail": (16, 18),
    "chicken": (486 / 24, 21 + 6 / 24),
    "duck": (28, 28),
    "muscovy_duck": (33, 37),
    "goose": (28, 33),
    "turkey": (28, 28),
    "guinea_fowl": (26, 28),
    "ring_necked_pheasant": (23, 26),
    "chukar": (22, 24),
    "peafowl": (28, 29),
    "pigeon": (16, 19),
    "swan": (33, 37),
    "ostrich": (42, 42),
    "emu": (49, 52),
    "rhea": (36, 42),
}

# Measured hours of hatch: Hyankova & Starosta 2012, Br. Poult. Sci. 53:592-598 (SEEN abstract) 391 and 406;
# S. Afr. J. Anim. Sci. 2005 (SEEN abstract) 405 to 441; Turk. J. Vet. Anim. Sci. 5487 (SEEN abstract)
# 486 to 498; Poult. Sci. 2020;99:3897-3907 Table 1 (SEEN) 491 to 503.
MEASURED_HOURS = {
    ("coturnix_quail", "hyankova_2012"): (391, 406),
    ("coturnix_quail", "quail_window_2005"): (405, 441),
    ("chicken", "chicken_storage_delay"): (486, 498),
    ("chicken", "chicken_shell_temperature_2020"): (491, 503),
}


def test_the_chart_stands_as_printed():
    for key, (days, transfer) in CHART.items():
        species = species_table()[key]
        chart = next(row for row in species.published if row.source_id == "incubation_chart")
        assert (chart.shortest, chart.longest) == days, key
        assert chart.status is Status.SEEN_SECOND_HAND
        assert species.transfer_days == transfer, key


def test_the_window_holds_every_source():
    assert set(WINDOW) == set(species_table())
    for key, (shortest, longest) in WINDOW.items():
        species = species_table()[key]
        assert species.shortest_days == pytest.approx(shortest, abs=0.006), key
        assert species.longest_days == pytest.approx(longest, abs=0.006), key
        for row in species.published:
            assert species.shortest_days <= row.shortest <= row.longest <= species.longest_days


def test_measured_hours_stand_as_days():
    for (key, source), (first, last) in MEASURED_HOURS.items():
        row = next(row for row in species_table()[key].published if row.source_id == source)
        assert row.basis == ("window" if source == "quail_window_2005" else "measured")
        assert row.shortest * 24 == pytest.approx(first, abs=0.15)
        assert row.longest * 24 == pytest.approx(last, abs=0.15)


def test_where_lists_disagree_the_usual_days_are_a_range():
    table = species_table()
    assert table["muscovy_duck"].usual_days == (33, 37)
    assert table["goose"].usual_days == (28, 33)
    assert table["coturnix_quail"].usual_days == (16, 18)
    assert table["chicken"].usual_days == (21, 21)


def test_transfer_is_before_the_first_chick():
    for species in species_table().values():
        if species.transfer_days:
            first, last = species.transfer_days
            assert first <= last < species.shortest_days + 1


def test_death_classes_as_published():
    table = species_table()
    # Hyankova & Starosta 2012 (SEEN abstract): early to day 7, late from day 14 on.
    quail = table["coturnix_quail"]
    assert (quail.early_to_day, quail.mid_to_day) == (7, 13)
    assert quail.stages.words() == "early 1-7, mid 8-13, late from 14"
    # Erdem & Savas 2022, Poultry Studies 19(1):7-10 (SEEN abstract), and a yellow-quail study (SEEN).
    assert quail.stages.others == "1-5 / 6-12 / 13-17 (erdem_2022); 1-9 / 10-16 / 17-18 (yellow_quail)"
    # Mauldin, University of Georgia, by weeks (SEEN second hand); several papers use the other one (SEEN).
    chicken = table["chicken"]
    assert (chicken.early_to_day, chicken.mid_to_day) == (7, 14)
    assert chicken.stages.others == "1-5 / 6-17 / 18-21 (chicken_other_classes)"


def test_the_classes_change_the_counts_of_the_same_deaths():
    # Deaths of days 1 to 21: Jassim et al. 1996, Poult. Sci. 75:464, data `chicken.embryo` of the R package
    # mable (SEEN). By weeks 29/1/13, by 1-5/6-17/18-21 26/6/11 (own count of those figures).
    deaths = [6, 5, 11, 2, 2, 3, 0, 0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 5, 1, 4, 1]
    found = []
    for division, in_use in death_classes_table()["chicken"]:
        early, mid = division.early_to, division.mid_to
        counts = sum(deaths[:early]), sum(deaths[early:mid]), sum(deaths[mid:])
        found.append((in_use, counts))
    assert found == [(True, (29, 1, 13)), (False, (26, 6, 11))]


def test_no_division_is_made_up_where_none_was_found():
    divided = {key for key, species in species_table().items() if species.stages}
    assert divided == {"coturnix_quail", "chicken"}
    assert species_table()["chukar"].early_to_day is None


def test_every_row_names_a_source_that_exists():
    sources = source_table()
    for name in ("species.csv", "incubation_days.csv", "death_classes.csv"):
        for row in read_rows(name):
            assert row["source_id"] in sources, row
            assert Status(row["status"]) is sources[row["source_id"]].status, row
    for species in species_table().values():
        for word in species.stages.others.split("(")[1:] if species.stages else ():
            assert word.split(")")[0] in sources


def test_every_source_is_said_once_and_whole():
    rows = read_rows("sources.csv")
    assert len({row["id"] for row in rows}) == len(rows) == len(source_table())
    for source in source_table().values():
        assert source.author
        assert source.title
        assert source.place
        assert f"({READ_AS[source.status]})" in source.citation()


def test_names():
    assert species_name("chinese_painted_quail") == "Chinese painted quail"
    with pytest.raises(WrongUsage, match="coturnix_quail"):
        species_name("Coturnix_Quail")


def test_stage_days_stand_beside_the_losses_with_their_source() -> None:
    words = stage_words("coturnix_quail")
    assert words.startswith("Stages by day of incubation: early 1–7, mid 8–13, late from 14 (")
    assert "_" not in words
    assert stage_words("goose").startswith("No published division")
