"""The public page in a browser and over the wire, and a server that never opens what belongs to the site."""

import http.client
import json
import re
import shutil
import signal
import subprocess
import sys
from dataclasses import replace

import pytest

from habitat.publish import publish
from habitat.publish_rules import read_rules
from habitat.publish_seal import open_publication, require_place, seal_publication
from habitat.site_map import map_site
from habitat.view.public import handler_of
from habitat.view.public_page import UNSAID, public_page
from layers.fault import RecordError
from tests import sites
from tests.pages import CHROMIUM, FLAGS, NAMELESS, NARROW, PATIENCE, ROOT, WIDE, in_browser

WORDS = {"on_seeing_an_animal": "Keep 50 m away, and stop the engine.", "who_decides": "<b>The council</b>"}
# every file that the process opens, told by the interpreter itself; libraries that open files behind its back
WATCHED = """
import sys
log = open({log!r}, "w", buffering=1)
def told(event, what):
    if event in ("open", "os.listdir", "os.scandir", "sqlite3.connect"):
        log.write(str(what[0]) + "\\n")
sys.addaudithook(told)
from habitat.cli import main
code = main({arguments!r})
log.write("LOADED " + " ".join(sorted({{name.partition(".")[0] for name in sys.modules}})) + "\\n")
sys.exit(code)
"""
BEHIND = {"rasterio", "h5py", "netCDF4", "pyogrio", "fiona", "geopandas"}


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """A site, and the folder published of it."""
    room = tmp_path_factory.mktemp("public page")
    found = map_site(sites.write_small_site(room / "site").parent)
    publish(found, room / "public", replace(read_rules(), words=WORDS), date="2026-03-05")
    return room


@pytest.fixture
def copied(room, tmp_path):
    shutil.copytree(room / "public", tmp_path / "public")
    return tmp_path / "public"


@pytest.fixture(scope="module")
def served(room):
    """The real command, watched; gives the port, and the log of what it opened once it has ended."""
    log = room / "opened.txt"
    arguments = ["serve", "--public", str(room / "public"), "--port", "0", "--no-browser"]
    command = [sys.executable, "-c", WATCHED.format(log=str(log), arguments=arguments)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT) as process:
        line = process.stdout.readline()
        try:
            assert line.startswith("The public page is at http://127.0.0.1:"), line + process.stderr.read()
            yield int(re.search(r":(\d+)/", line)[1])
        finally:
            process.send_signal(signal.SIGINT)
            try:
                assert process.wait(60) == 130
            finally:
                process.kill()
        assert "Traceback" not in process.stderr.read()
    opened = log.read_text().splitlines()
    assert any("publication.json" in line for line in opened)
    assert not [line for line in opened if str(room / "site") in line]
    assert not BEHIND & set(opened[-1].split())


def asked(port, path, method="GET"):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request(method, path)
    reply = connection.getresponse()
    found = reply.status, dict(reply.getheaders()), reply.read()
    connection.close()
    return found


def test_only_the_page_and_published_files_are_given_and_nothing_is_taken(room, served):
    status, headers, page = asked(served, "/?season=dry")
    assert status == 200
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert b"<script" not in page
    assert b"<form" not in page
    assert asked(served, "/files/classes.nc")[2] == (room / "public" / "classes.nc").read_bytes()
    assert asked(served, "/files/classes.nc", "HEAD")[2] == b""
    for path in ("/files/../site/seen.csv", "/files/%2e%2e/site/seen.csv", "/files/publication.json/", "/x", "//["):
        assert asked(served, path)[0] == 404, path
    for method in ("POST", "PUT", "DELETE"):
        assert asked(served, "/", method)[0] == 501


def test_the_page_says_what_was_said_and_what_was_not(room):
    table = open_publication(room / "public").table
    page = public_page(table, "dry")
    assert "Keep 50 m away, and stop the engine." in page
    assert "&lt;b&gt;The council&lt;/b&gt;" in page
    assert page.count(UNSAID) == 2  # an offence, and the licence
    for words in ("INVENTED SITE", "neither poor habitat nor safe water", "Local law and licensed practice decide"):
        assert words in page
    hectares = [row.hectares for one in table.maps if one.name == "suitability_class" for row in one.classes]
    wet = 30 * 30 * 0.25  # 30 rows by 30 columns of water, cells of 50 m: tests.sites
    assert sum(hectares) == pytest.approx(2 * wet)  # two seasons
    assert public_page(table, "no such season") == public_page(table, "wet")


@pytest.mark.parametrize("harm", ["changed", "added", "lost", "linked", "words", "hidden folder"])
def test_a_folder_that_is_not_as_it_was_published_is_refused(copied, harm):
    if harm == "changed":
        (copied / "README.txt").write_text("seen here")
    elif harm == "added":
        (copied / "seen.csv").write_text("x,y\n1,2\n")
    elif harm == "lost":
        (copied / "classes.nc").unlink()
    elif harm == "linked":
        (copied / "classes.nc").rename(copied.parent / "other.nc")
        (copied / "classes.nc").symlink_to(copied.parent / "other.nc")
    elif harm == "words":
        told = json.loads((copied / "publication.json").read_text())
        told["sightings"] = "All of them are at the jetty."
        (copied / "publication.json").write_text(json.dumps(told))
    else:
        (copied / ".notes").mkdir()
    with pytest.raises(RecordError):
        open_publication(copied)
    with pytest.raises(RecordError, match="nothing else is ever deleted"):
        require_place(copied, replace=True)


def test_the_site_folder_or_any_other_is_no_published_one(room, tmp_path):
    for folder in (room / "site", tmp_path, tmp_path / "none"):
        with pytest.raises(RecordError):
            open_publication(folder)
    ran = subprocess.run(
        [sys.executable, "-m", "habitat.cli", "serve", "--public", str(room / "site")],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert ran.returncode == 2
    assert "it is not a published folder" in ran.stderr


def test_a_publication_may_be_replaced_and_one_that_was_sealed_by_hand_reads_the_same(copied):
    require_place(copied, replace=True)
    with pytest.raises(RecordError, match="exists already"):
        require_place(copied, replace=False)
    told = json.loads((copied / "publication.json").read_text())
    (copied / "publication.json").unlink()
    seal_publication(copied, {name: one for name, one in told.items() if name not in ("format", "files", "seal")})
    assert json.loads((copied / "publication.json").read_text()) == told


def test_a_file_that_changes_while_it_is_served_is_withdrawn(copied):
    from habitat.view.public import _answer_to

    publication = open_publication(copied)
    assert handler_of(publication)
    (copied / "README.txt").write_text("seen here")
    status, _, content = _answer_to(publication, "/files/README.txt")
    assert status == 410
    assert b"seen here" not in content


@pytest.fixture(scope="module")
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.browser
@in_browser[1]
def test_the_page_in_a_browser(chromium, served, size):
    home, wrong = f"http://127.0.0.1:{served}/", []
    context = chromium.new_context(viewport=size)
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
    page.on("console", lambda said: said.type == "error" and wrong.append(f"console: {said.text}"))
    page.on("request", lambda ask: not ask.url.startswith((home, "data:")) and wrong.append(f"asked: {ask.url}"))
    page.on("response", lambda reply: reply.status >= 400 and wrong.append(f"{reply.status}: {reply.url}"))
    page.goto(home)
    assert page.locator("h1").count() == 1
    assert page.evaluate("[...document.images].every(one => one.complete && one.naturalWidth > 300)")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the maps"
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**season=dry")
    assert page.locator("[aria-current=page]").text_content() == "Dry season"
    assert "dry season" in page.locator("h2", has_text="could live").text_content()
    for summary in page.locator("summary").all():
        summary.click()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    named = page.evaluate(NAMELESS)
    assert named["looked_at"] > 10
    assert named["nameless"] == []
    context.close()
    assert not wrong, "\n".join(wrong)
