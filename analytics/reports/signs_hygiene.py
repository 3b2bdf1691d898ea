"""Cleaning and losses as plain text and plain values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analytics.reports.month_text import paragraph
from analytics.studies.hygiene import SIGNS, HygieneAnswer, band_words
from analytics.studies.wording import species_words


def hygiene_lines(found: Sequence[HygieneAnswer]) -> list[str]:
    """Paragraphs of the part on cleaning, its heading first; to be joined by blank lines."""
    parts = ["CLEANING, days since it at setting"]
    for one in found:
        parts.append(paragraph(f"{species_words(one.species)}: {one.sentence}"))
        parts += [
            paragraph(f"- {SIGNS[row.sign]}: {'; '.join(band_words(band) for band in row.bands)}")
            for row in one.rows
        ]
        parts += [paragraph(f"- {text}") for text in one.not_known]
    cautions = dict.fromkeys(text for one in found for text in one.cautions)
    return parts + [paragraph(text) for text in cautions]


def hygiene_values(found: Sequence[HygieneAnswer]) -> list[dict[str, Any]]:
    """Species by species; slopes are changes of the share per day, shares 0..1, unrounded."""
    return [
        {
            "species": one.species,
            "batches": one.batches[0],
            "batches_known": one.batches[1],
            "sentence": one.sentence,
            "rows": list(one.rows),
            "not_known": one.not_known,
            "cautions": one.cautions,
        }
        for one in found
    ]
