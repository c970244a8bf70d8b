"""A server for everybody: it reads one published folder and nothing else, and takes nothing from a visitor.

No site is opened in this process: a visitor who found a hole in it would find the public folder behind it.
"""

from __future__ import annotations

import mimetypes
import signal
import webbrowser
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, unquote, urlsplit

from layers.fault import RecordError

if TYPE_CHECKING:
    from habitat.publish_seal import Publication

_GUARDS = {
    "Content-Security-Policy": "default-src 'none'; img-src 'self' data:; style-src 'unsafe-inline'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}
_TYPES = {".nc": "application/x-netcdf", ".gpkg": "application/geopackage+sqlite3", ".csv": "text/csv; charset=utf-8"}


def serve_public(
    folder: str | Path,
    *,
    port: int = 5010,
    address: str = "127.0.0.1",
    open_browser: bool = False,
    announce: Callable[[str], None] = print,
) -> None:
    """Show a published folder until stopped by Ctrl-C.

    Parameters
    ----------
    folder : path
        As `habitat.publish.publish` made it.
    port : int
        0 takes any free one.
    address : str
        The default lets nobody but this machine in.
    open_browser : bool
    announce : callable
        Given the sentence that says where the page is.

    Raises
    ------
    RecordError
        If the folder is no publication, or anything in it is not as it was published; if the port is taken.
    """
    from habitat.publish_seal import open_publication
    from habitat.view.server import free_port

    publication = open_publication(folder)
    server = ThreadingHTTPServer((address, free_port(address, port)), handler_of(publication))
    server.daemon_threads = True
    url = f"http://{'127.0.0.1' if address == '0.0.0.0' else address}:{server.server_port}/"
    for stop in (signal.SIGINT, signal.SIGTERM):
        signal.signal(stop, signal.default_int_handler)
    announce(f"The public page is at {url} (stop with Ctrl-C).")
    if open_browser:
        webbrowser.open(url)
    try:
        server.serve_forever()
    finally:
        server.server_close()


def handler_of(publication: Publication) -> type[BaseHTTPRequestHandler]:
    """What answers the visitors: the page, and files of the publication that are still as they were published."""

    class Handler(BaseHTTPRequestHandler):
        timeout = 30  # a visitor who says nothing is not waited for [s]
        server_version, sys_version = "Shallows", ""

        def do_GET(self) -> None:
            self._answer(*_answer_to(publication, self.path))

        def do_HEAD(self) -> None:
            self._answer(*_answer_to(publication, self.path), with_content=False)

        def log_message(self, *_: object) -> None:
            """Nobody's visit is written down."""

        def _answer(self, status: int, kind: str, content: bytes, with_content: bool = True) -> None:
            self.send_response(status)
            headers = _GUARDS | {"Content-Type": kind, "Content-Length": str(len(content))}
            for name, value in headers.items():
                self.send_header(name, value)
            self.end_headers()
            if with_content:
                self.wfile.write(content)

    return Handler


def _answer_to(publication: Publication, asked: str) -> tuple[int, str, bytes]:
    from habitat.view.public_page import plain_page, public_page

    html = "text/html; charset=utf-8"
    try:
        address = urlsplit(asked)
    except ValueError:
        address = urlsplit("/not-there")
    if address.path == "/":
        season = parse_qs(address.query).get("season", [None])[0]
        return 200, html, public_page(publication.table, season).encode()
    name = unquote(address.path.removeprefix("/files/"))
    if not address.path.startswith("/files/") or name not in publication.table.files:
        return 404, html, plain_page("Not here", "There is no such page or file.").encode()
    try:
        content = publication.read(name)
    except RecordError:
        return 410, html, plain_page("Withdrawn", "This file is no longer as it was published.").encode()
    kind = _TYPES.get(Path(name).suffix) or mimetypes.guess_type(name)[0] or "application/octet-stream"
    return 200, f"{kind}; charset=utf-8" if kind == "text/plain" else kind, content
