"""Where a notebook runs: in JupyterLab or served as a page. Both work without a network.

In JupyterLab the scripts travel inside the notebook; a served page takes them from its own server.
"""

from __future__ import annotations

import os
import sys

PAGES = {
    "start": "Start",
    "overview": "Overview",
    "appraise": "Appraise",
    "water": "Water and light",
    "tuning": "Tuning",
    "trust": "How sure",
    "review": "Review",
    "sources": "Sources",
}


def prepare() -> None:
    """Load the drawing libraries the way this host needs, and dress the page.

    Call it in the first code cell, before anything else of `habitat.view` is imported: the libraries look at
    the environment when they are first loaded.
    """
    in_lab = is_in_lab()
    if in_lab:
        os.environ.setdefault("BOKEH_RESOURCES", "inline")
    import holoviews as hv
    import panel as pn

    from habitat.view.theme import dress_document

    pn.extension("tabulator", "filedropper", inline=in_lab)
    hv.extension("bokeh", inline=in_lab)
    if not in_lab:
        dress_document()


def is_in_lab() -> bool:
    """Whether a notebook kernel runs this, rather than the server of the pages."""
    return "ipykernel" in sys.modules


def address_of(page: str) -> str:
    """Link from one page to another; beside it as a notebook when seen in JupyterLab.

    Examples
    --------
    >>> address_of("overview").startswith("overview")
    True
    """
    if is_in_lab():
        return f"{page}.ipynb"
    return "./" if page == "start" else page
