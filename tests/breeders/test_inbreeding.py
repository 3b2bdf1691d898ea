"""Inbreeding and kinship against published pedigrees, their definition, and each other's method."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from analytics.breeders import inbreeding as module
from analytics.breeders.inbreeding import inbreeding, kinship, relationships
from analytics.breeders.pedigree import UNKNOWN, Descent, Pedigree, pedigree


def _numbered(sires: Sequence[int], dams: Sequence[int]) -> Pedigree:
    """Birds 1, 2, 3, ...; 0 = not known. Books number animals so, and let one be sire and dam."""
    rows = zip(sires, dams, strict=True)
    return pedigree([Descent(str(at), "", _name(s), _name(d)) for at, (s, d) in enumerate(rows, 1)])


def _name(number: int) -> str:
    return str(number) if number else ""


def _by_number(known: Pedigree, found: np.ndarray) -> list[float]:
    return [float(found[known.place[str(at)]]) for at in range(1, len(known.birds) + 1)]


# Mrode, Linear Models for the Prediction of Animal Breeding Values, example 2.1: pedigree and matrix from
# MEMORY; F 0 0 0 0 .125 .125 SEEN (expected values in a CRAN help page of the same pedigree)
MRODE = (0, 0, 1, 1, 4, 5), (0, 0, 2, 0, 3, 2)
MRODE_A = [
    [1, 0, 0.5, 0.5, 0.5, 0.25],
    [0, 1, 0.5, 0, 0.25, 0.625],
    [0.5, 0.5, 1, 0.25, 0.625, 0.5625],
    [0.5, 0, 0.25, 1, 0.625, 0.3125],
    [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
    [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
]


def test_worked_example_of_a_textbook() -> None:
    known = _numbered(*MRODE)
    names = [str(at) for at in range(1, 7)]
    places = known.places(names)
    assert np.allclose(relationships(known)[np.ix_(places, places)], MRODE_A, atol=1e-15)
    assert _by_number(known, inbreeding(known)) == [0, 0, 0, 0, 0.125, 0.125]
    assert np.allclose(2 * kinship(known, names, names), MRODE_A, atol=1e-15)


def test_twelve_animals_of_a_help_page() -> None:
    """Pedigree SEEN in a CRAN help page; F of animal 10 and 11 by hand through their common forebears."""
    known = _numbered((0, 0, 0, 2, 2, 0, 4, 6, 0, 6, 10, 10), (0, 0, 0, 1, 1, 0, 3, 5, 7, 8, 9, 0))
    assert _by_number(known, inbreeding(known)) == [0] * 9 + [0.25, 0.015625, 0]


RELATED = {
    # F of the young; Wright 1922, American Naturalist 56:330-338, and any textbook, from MEMORY
    "parent and child": (0.25, "y", "x", [("y", "a", "x")]),
    "full sibs": (0.25, "x", "y", [("x", "a", "b"), ("y", "a", "b")]),
    "half sibs": (0.125, "x", "y", [("x", "a", "b"), ("y", "a", "c")]),
    "uncle and niece": (0.125, "x", "y", [("x", "a", "b"), ("s", "a", "b"), ("y", "s", "c")]),
    "first cousins": (
        0.0625, "x", "y", [("s", "a", "b"), ("t", "a", "b"), ("x", "s", "c"), ("y", "t", "d")],
    ),
    "double first cousins": (
        0.125, "x", "y",
        [("s", "a", "b"), ("t", "a", "b"), ("u", "c", "d"), ("v", "c", "d"), ("x", "s", "u"),
         ("y", "t", "v")],
    ),
    "strangers": (0.0, "x", "y", [("x", "a", "b"), ("y", "c", "")]),
}  # fmt: skip


@pytest.mark.parametrize("pair", RELATED)
def test_usual_matings(pair: str) -> None:
    expected, one, other, rows = RELATED[pair]
    known = pedigree([*(Descent(b, "", s, d) for b, s, d in rows), Descent("young", "", one, other)])
    assert inbreeding(known)[known.place["young"]] == expected
    assert kinship(known, [one], [other])[0, 0] == expected


# Falconer and Mackay 1996, Introduction to Quantitative Genetics, Table 5.1, generations 0, 1, ...: MEMORY
FULL_SIBS = (0, 0, 0.25, 0.375, 0.5, 0.594, 0.672, 0.734, 0.785)
BACKCROSS = (0, 0, 0.25, 0.375, 0.438, 0.469)


def full_sib_line(generations: int) -> Pedigree:
    """Brother by sister, again and again."""
    rows = [Descent("m0", "m"), Descent("f0", "f")]
    for at in range(1, generations):
        rows += [Descent(f"{sex}{at}", sex, f"m{at - 1}", f"f{at - 1}") for sex in "mf"]
    return pedigree(rows)


def test_full_sib_mating_by_generation() -> None:
    known = full_sib_line(len(FULL_SIBS))
    found = [inbreeding(known)[known.place[f"f{at}"]] for at in range(len(FULL_SIBS))]
    assert np.round(found, 3).tolist() == list(FULL_SIBS)


def test_back_to_one_father_by_generation() -> None:
    rows = [Descent("cock", "m"), Descent("f0", "f")]
    rows += [Descent(f"f{at}", "f", "cock", f"f{at - 1}") for at in range(1, len(BACKCROSS))]
    known = pedigree(rows)
    found = [inbreeding(known)[known.place[f"f{at}"]] for at in range(len(BACKCROSS))]
    assert np.allclose(found, BACKCROSS, atol=5.1e-4)


def tangled(seed: int, birds: int = 300) -> Pedigree:
    """Long lives, unknown parents, several generations at once."""
    random = np.random.default_rng(seed)
    rows = []
    for at in range(birds):
        sire, dam = (
            2 * random.integers(max(0, at // 2 - 20), at // 2) + sex if at > 8 else 0 for sex in (0, 1)
        )
        names = [f"b{p}" if at > 8 and random.random() > 0.1 else "" for p in (sire, dam)]
        rows.append(Descent(f"b{at}", "mf"[at % 2], *names))
    return pedigree([rows[at] for at in random.permutation(birds)])


@pytest.mark.parametrize("most", [0, 20, 3_000])
def test_same_as_the_whole_table(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    """By generation, full or sparse, and for chosen birds alone: the same as the table of all birds."""
    monkeypatch.setattr(module, "DENSE_MOST", most)
    known = tangled(5)
    table = relationships(known)
    assert np.diag(table).max() > 1.05
    assert np.allclose(inbreeding(known), np.diag(table) - 1, atol=1e-12)
    some, others = known.birds[40:290:9], known.birds[3:300:13]
    expected = table[np.ix_(known.places(some), known.places(others))] / 2
    assert np.allclose(kinship(known, some, others), expected, atol=1e-12)


def test_definition_genes_handed_down() -> None:
    """F is the chance that both genes of a bird are copies of one gene of a forebear: hand them down."""
    known = tangled(11, birds=60)
    random, drops = np.random.default_rng(12), 20_000
    genes = np.empty((len(known.birds), 2, drops), dtype=np.int32)
    for bird in range(len(known.birds)):
        for side, parent in enumerate((known.sire[bird], known.dam[bird])):
            fresh = np.full(drops, 2 * bird + side)
            either = genes[parent, random.integers(0, 2, drops), np.arange(drops)]
            genes[bird, side] = fresh if parent == UNKNOWN else either
    seen = (genes[:, 0] == genes[:, 1]).mean(axis=1)
    found = inbreeding(known)
    assert found.max() > 0.1
    assert np.abs(seen - found).max() < 4 * np.sqrt(0.25 / drops)


def test_an_empty_pedigree_has_no_inbreeding() -> None:
    assert inbreeding(pedigree([])).shape == (0,)
