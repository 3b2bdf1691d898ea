"""The dashboard's frame: which pages there are. Nothing else."""

from __future__ import annotations

import streamlit as st

from dashboard import (
    words,
    words_batch,
    words_breeders,
    words_changes,
    words_incubators,
    words_losses,
    words_pens,
    words_plan,
    words_sources,
    words_trends,
)
from dashboard.components import door, frame
from dashboard.pages import (
    batch,
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


def main() -> None:
    """Shows the page that the reader has chosen."""
    st.set_page_config(page_title=words.NAME, page_icon=str(frame.EGG), layout="centered")
    st.logo(str(frame.EGG), size="large")
    frame.paper(frame.look())
    pages = {
        "month": st.Page(month.show, title=words.PAGE_MONTH, url_path="this-month", default=True),
        "batch": st.Page(batch.show, title=words_batch.PAGE, url_path="one-hatch"),
        "pens": st.Page(pens.show, title=words_pens.PAGE, url_path="pens"),
        "trends": st.Page(trends.show, title=words_trends.PAGE, url_path="trends"),
        "losses": st.Page(losses.show, title=words_losses.PAGE, url_path="losses"),
        "incubators": st.Page(incubators.show, title=words_incubators.PAGE, url_path="incubators"),
        "changes": st.Page(changes.show, title=words_changes.PAGE, url_path="changes"),
        "breeders": st.Page(breeders.show, title=words_breeders.PAGE, url_path="breeders"),
        "plan": st.Page(plan.show, title=words_plan.PAGE, url_path="plan"),
        "records": st.Page(records.show, title=words.PAGE_RECORDS, url_path="record-sheets"),
        "sources": st.Page(sources.show, title=words_sources.PAGE, url_path="sources"),
    }
    st.session_state[frame.PAGES] = pages
    chosen = st.navigation(list(pages.values()), position="top")
    frame.pages_by_name(list(pages.values()))
    door.watch()
    chosen.run()
    door.way_out()


main()
