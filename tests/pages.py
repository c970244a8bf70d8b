"""What the browser tests share: a served site, a browser that fails on any error, and eyes for what is drawn.

A test module imports the fixtures it needs by the names of their functions, and sets `pytestmark = in_browser`.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from habitat.site_map import map_site
from tests.view.shoreland import write_shore_site

ROOT = Path(__file__).parents[1]
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE = 120_000  # a machine that does much else must not fail a page [ms]
WIDE, NARROW = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
NAMELESS = """() => { const nameless = []; let looked_at = 0;
  const walk = root => { for (const part of root.querySelectorAll('*')) {
  if (part.shadowRoot) walk(part.shadowRoot);
  if (!part.matches('input, select, button, [role=slider], a[href], [tabindex="0"]')) continue;
  looked_at += 1;
  const named = part.getAttribute('aria-label') || part.textContent.trim() || part.title || part.placeholder
    || (part.labels && part.labels.length) || part.getAttribute('aria-labelledby');
  if (!named && part.checkVisibility()) nameless.push(part.outerHTML.slice(0, 200)); } };
  walk(document); return {nameless, looked_at}; }"""

in_browser = [
    pytest.mark.browser,
    pytest.mark.skipif(
        not CHROMIUM,
        reason="NO BROWSER TEST WAS RUN: no Chromium found. Install it, or name it in the variable CHROMIUM.",
    ),
]


@pytest.fixture(scope="module", name="site")
def shore_site(tmp_path_factory):
    return write_shore_site(tmp_path_factory.mktemp("pages") / "site").parent


@pytest.fixture(scope="module", name="found")
def found_by_the_site(site):
    return map_site(site)


@pytest.fixture(scope="module", name="server")
def serving(site, tmp_path_factory):
    """The real command on a free port; gives the address and, at the end, fails on anything in its log."""
    log = tmp_path_factory.mktemp("log") / "server.log"
    command = [sys.executable, "-m", "habitat.cli", "serve", str(site), "--port", "0", "--no-browser"]
    with (
        log.open("w") as stream,
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=stream, text=True, cwd=ROOT) as process,
    ):
        line = process.stdout.readline()
        try:
            assert line.startswith("The pages are at http://127.0.0.1:"), line + log.read_text()
            yield re.search(r"http://\S+/", line)[0]
        finally:
            process.send_signal(signal.SIGINT)
            try:
                ended = process.wait(60)
            finally:
                process.kill()  # one that does not end must not hold up the tests
    assert ended == 130, "Ctrl-C ends the server as the command line promises"
    said = log.read_text()
    assert "Error running application handler" not in said, said
    # a visitor who leaves while something is sent to him is told by the web library; our own code must be silent
    assert not re.search(r'File "\S*/(habitat|layers)/', said), said


@pytest.fixture(scope="module", name="chromium")
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(name="visit")
def visiting(chromium, server):
    """Opens pages; fails at the end on any error in the browser and on any request to another host."""
    wrong, contexts, received = [], [], []  # received: what the server sent, as it came

    def open_page(address: str, viewport=WIDE, **options):
        context = chromium.new_context(viewport=viewport, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
        page.on("console", lambda said: said.type == "error" and wrong.append(f"console: {said.text}"))
        page.on("request", lambda asked: _is_foreign(asked.url, server) and wrong.append(f"asked: {asked.url}"))
        page.on("response", lambda reply: reply.status >= 400 and wrong.append(f"{reply.status}: {reply.url}"))
        page.on("websocket", lambda socket: socket.on("framereceived", lambda part: received.append(part)))
        page.set_default_timeout(PATIENCE)
        page.goto(server + address)
        page.get_by_role("heading", level=1).wait_for()
        page.wait_for_function("window.Bokeh && Bokeh.documents.length && Bokeh.documents[0].is_idle")
        return page

    open_page.received = received
    yield open_page
    for context in contexts:
        context.close()
    assert not wrong, "\n".join(wrong)


def _is_foreign(url: str, server: str) -> bool:
    return not url.startswith((server, server.replace("http", "ws"), "data:", "blob:", "about:"))


def pixel(page, figure, share_x, share_y):
    """Colour of the drawn map at a place given in shares of its width and height from the top left."""
    import io

    from PIL import Image

    picture = Image.open(io.BytesIO(figure.screenshot())).convert("RGB")
    return picture.getpixel((int(share_x * picture.width), int(share_y * picture.height)))


def comes_to(page, figure, shares, colour, within=6):
    """Whether a place of the map takes a colour, at the latest after the page's patience."""
    for _ in range(PATIENCE // 1000):
        if np.abs(np.subtract(pixel(page, figure, *shares), colour)).max() <= within:
            return True
        page.wait_for_timeout(1000)
    return False


def share_of(grid, x, y):
    west, south, east, north = grid.bounds
    return (x - west) / (east - west), (north - y) / (north - south)


def at(figure, shares):
    box = figure.bounding_box()
    return box["x"] + shares[0] * box["width"], box["y"] + shares[1] * box["height"]


def rgb(colour):
    return tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))
