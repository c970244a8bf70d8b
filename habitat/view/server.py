"""The pages on this machine: one server, no other host is ever asked for anything."""

from __future__ import annotations

import os
import signal
import webbrowser
from collections.abc import Callable
from importlib import resources
from pathlib import Path

from layers.step import OnStep, ignore

NOTEBOOKS = ("start", "overview", "appraise", "water", "tuning", "trust", "review", "sources")


def serve(
    site_path: str | Path | None = None,
    *,
    profile: str | Path | None = None,
    port: int = 5010,
    address: str = "127.0.0.1",
    open_browser: bool = False,
    on_step: OnStep = ignore,
    announce: Callable[[str], None] = print,
) -> None:
    """Serve the pages of a site until stopped by Ctrl-C.

    Parameters
    ----------
    site_path : path, optional
        A site file or its folder; without it, the invented site.
    profile : path or name of a shipped profile, optional
        Without it, the `profile.toml` beside the site file.
    port : int
        0 takes any free one.
    address : str
        The default lets nobody but this machine in. There is no login: give another address only on a network
        where everyone may see the site.
    open_browser : bool
        Whether to open the first page when the server listens.
    on_step : callable
        Told of each step of reading and assessing the site.
    announce : callable
        Given the sentence that says where the pages are, once they can be opened.

    Raises
    ------
    LayerError, ProfileError
        With every fault of the site or of the profile, before anything is served.
    RecordError
        If the port is taken.
    """
    import panel as pn

    from habitat.view.chain import chain_of
    from habitat.view.opening import PROFILE, SITE, opened_site

    _remember(SITE, None if site_path is None else Path(site_path).resolve())
    # a shipped profile keeps its name, a file its full path
    _remember(PROFILE, Path(profile).resolve() if profile is not None and Path(profile).is_file() else profile)
    # read before the first visitor comes, and refused before anything listens
    chain_of(opened_site(on_step=on_step))
    server = _listening(pn, port, address)
    url = f"http://{'127.0.0.1' if address == '0.0.0.0' else address}:{server.port}/"
    announce(f"The pages are at {url} (stop with Ctrl-C).")
    if open_browser:
        webbrowser.open(url)
    server.start()
    try:
        _run_until_stopped(server.io_loop)
    finally:
        server.stop()


def _run_until_stopped(io_loop: object) -> None:
    """Serve until a signal ends it, then raise KeyboardInterrupt as the command line expects.

    An exception raised by the signal itself can fall into a callback that swallows it; so the first signal only asks
    the loop to end, and a second one interrupts whatever is being worked out.
    """

    def ask_to_end(*_: object) -> None:
        for stop in (signal.SIGINT, signal.SIGTERM):
            signal.signal(stop, signal.default_int_handler)
        io_loop.asyncio_loop.call_soon_threadsafe(io_loop.stop)

    for stop in (signal.SIGINT, signal.SIGTERM):
        signal.signal(stop, ask_to_end)
    io_loop.start()
    raise KeyboardInterrupt


def notebook_paths() -> dict[str, Path]:
    """Address of each page and the notebook behind it."""
    # beside the packages in a working copy, a package of their own once installed
    folder = Path(__file__).parents[2] / "notebooks"
    if not (folder / "start.ipynb").is_file():
        folder = Path(str(resources.files("habitat.notebooks")))
    return {"/" if name == "start" else name: folder / f"{name}.ipynb" for name in NOTEBOOKS}


def _listening(pn: object, port: int, address: str) -> object:
    port = free_port(address, port)
    # a page of another origin must not talk to the pages, so only the names of this server are let in
    names = {address, "127.0.0.1", "localhost"} - {"0.0.0.0"}
    return pn.io.server.get_server(
        {slug: str(path) for slug, path in notebook_paths().items()},
        port=port,
        address=address,
        websocket_origin=sorted(f"{name}:{port}" for name in names),
        start=False,
        show=False,
        verbose=False,
    )


def free_port(address: str, port: int) -> int:
    """The port, or any free one for 0; a fault where it is taken, before the web library stumbles over it."""
    import socket

    from layers.fault import Fault, RecordError

    with socket.socket() as probe:
        # as the web server does: a port that a stopped server has just left is free
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError as refusal:
            fault = Fault(
                "--port",
                f"port {port} on {address} cannot be used ({refusal.strerror}).",
                "Choose another with --port, or 0 for any free one.",
            )
            raise RecordError("command line", [fault]) from None
        return probe.getsockname()[1]


def _remember(name: str, value: object | None) -> None:
    if value is None:
        os.environ.pop(name, None)
    else:
        os.environ[name] = str(value)
