"""The server listens on this machine only and refuses before it serves."""

import os
import socket

import pytest

from habitat.view.opening import PROFILE, SITE
from habitat.view.server import notebook_paths, serve
from layers.fault import LayerError, ProfileError, RecordError
from tests.sites import write_small_site


@pytest.fixture(autouse=True)
def environment():
    before = {name: os.environ.get(name) for name in (SITE, PROFILE)}
    yield
    for name, value in before.items():
        os.environ.pop(name, None)
        if value is not None:
            os.environ[name] = value


def test_each_page_has_its_notebook():
    assert set(notebook_paths()) == {"/", "overview", "appraise", "water", "tuning", "trust", "review", "sources"}
    assert all(path.is_file() for path in notebook_paths().values())


def test_a_faulty_site_is_refused_before_anything_listens(tmp_path):
    site = write_small_site(tmp_path / "site").parent
    (site / "bed.tif").unlink()
    with pytest.raises(LayerError, match=r"bed\.tif"):
        serve(site, port=0)


def test_an_unknown_profile_is_refused(tmp_path):
    site = write_small_site(tmp_path / "site").parent
    with pytest.raises(ProfileError, match="no profile is called"):
        serve(site, profile="unicorn", port=0)


def test_a_taken_port_is_said_with_what_to_do(tmp_path):
    site = write_small_site(tmp_path / "site").parent
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(RecordError) as refused:
            serve(site, port=port)
    assert str(refused.value) == (
        "command line: 1 problem\n"
        f"  --port: port {port} on 127.0.0.1 cannot be used (Address already in use). "
        "Choose another with --port, or 0 for any free one."
    )
