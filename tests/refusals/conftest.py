"""Runs the refusals of a module side by side, each in a folder and a process of its own."""

from __future__ import annotations

import shutil
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.refusals.refusal import Outcome, Refusal, run
from tests.sites import TABLES, site_text, write_small_site


@pytest.fixture(scope="session")
def whole_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a site that has no fault; not to be written to."""
    return write_small_site(tmp_path_factory.mktemp("whole") / "site").parent


@pytest.fixture(scope="module")
def outcomes(request: pytest.FixtureRequest, whole_site: Path, tmp_path_factory: pytest.TempPathFactory):
    """What became of each chosen refusal of the module, as futures by its kind."""
    chosen = [
        item.callspec.params["refusal"]
        for item in request.session.items
        if getattr(item, "module", None) is request.module  # a doctest has none
        and "refusal" in getattr(getattr(item, "callspec", None), "params", {})
    ]
    folders = {}
    for refusal in chosen:
        folder = tmp_path_factory.mktemp("refused")
        folders[refusal.kind] = spoiled(refusal, whole_site, folder)
    with ThreadPoolExecutor(2) as pool:  # one for each core of a small machine
        yield {refusal.kind: pool.submit(run, folders[refusal.kind], *refusal.command) for refusal in chosen}


def spoiled(refusal: Refusal, whole_site: Path, folder: Path) -> Path:
    """`folder` with the small site in it, cut down to the refusal's tables and then spoiled."""
    shutil.copytree(whole_site, folder / "site")
    tables = {name: TABLES[name] for name in refusal.tables}
    (folder / "site" / "site.toml").write_text(site_text(tables), encoding="utf-8")
    refusal.spoil(folder)
    return folder


@pytest.fixture
def outcome(refusal: Refusal, outcomes: dict[str, Future[Outcome]]) -> Outcome:
    """What became of one refusal."""
    return outcomes[refusal.kind].result()
