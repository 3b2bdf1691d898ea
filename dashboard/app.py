"""The dashboard's frame: which pages there are. Nothing else."""

from __future__ import annotations

import streamlit as st

from dashboard import (
    words,
    words_batch,
    words_bench,
    words_breeders,
    words_changes,
    words_incubators,
    words_losses,
    words_pens,
    words_plan,
    words_sources,
    words_trends,
)
from dashboard.components import door, frame, link, reader, trouble
from dashboard.pages import (
    batch,
    bench,
    breeders,
    changes,
    incubators,
    losses,
    month,
    pens,
    plan,
    records,
    sources,
    trends,
)

PAGES = (
    {
        "month": st.Page(month.show, title=words.PAGE_MONTH, url_path="start", default=True),
        "batch": st.Page(batch.show, title=words_batch.PAGE, url_path="one-hatch"),
    },
    {
        "pens": st.Page(pens.show, title=words_pens.PAGE, url_path="pens"),
        "trends": st.Page(trends.show, title=words_trends.PAGE, url_path="trends"),
        "losses": st.Page(losses.show, title=words_losses.PAGE, url_path="losses"),
        "incubators": st.Page(incubators.show, title=words_incubators.PAGE, url_path="incubators"),
        "changes": st.Page(changes.show, title=words_changes.PAGE, url_path="changes"),
    },
    {
        "breeders": st.Page(breeders.show, title=words_breeders.PAGE, url_path="breeders"),
        "plan": st.Page(plan.show, title=words_plan.PAGE, url_path="plan"),
    },
    {
        "bench": st.Page(bench.show, title=words_bench.PAGE, url_path="bench"),
        "records": st.Page(records.show, title=words.PAGE_RECORDS, url_path="record-sheets"),
        "sources": st.Page(sources.show, title=words_sources.PAGE, url_path="sources"),
    },
)
"""The pages by name, under the questions of `words.GROUPS`."""


def main() -> None:
    """Shows the page that the reader has chosen."""
    st.set_page_config(page_title=words.NAME, page_icon=str(frame.EGG), layout="centered")
    reader.settle()
    frame.paper(frame.look())
    pages = {name: page for group in PAGES for name, page in group.items()}
    st.session_state[frame.PAGES] = pages
    # A link to the month by its name is as good as one without.
    again = st.Page(month.show, title=words.PAGE_MONTH, url_path="this-month")
    chosen = st.navigation([*pages.values(), again], position="hidden")
    here = next((name for name, page in pages.items() if page.url_path == chosen.url_path), "month")
    frame.navigation(dict(zip(words.GROUPS, PAGES, strict=True)), here)
    door.watch()
    if not trouble.was_stopped():
        chosen.run()
    door.way_out()
    link.keep()


main()
