"""A map that is stopped while it is written leaves nothing that could be taken for results."""

import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.refusals.refusal import environment, run

MAP = ("map", "site", "--out", "results", "--date", "2026-03-05")


def stopped(folder: Path, whole_site: Path, stop: signal.Signals) -> tuple[int, str]:
    """Exit code and last line of a map that is sent a signal as soon as it begins to write."""
    shutil.copytree(whole_site, folder / "site")
    command = [sys.executable, "-m", "habitat.cli", *MAP]
    with subprocess.Popen(
        command, cwd=folder, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        said = []
        for line in running.stderr:
            said.append(line)
            if ": writing " in line:
                break
        assert any(folder.glob("results.unfinished-*")), said
        running.send_signal(stop)
        said += running.stderr.readlines()
        running.wait(timeout=60)
    return running.returncode, said[-1]


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM], ids=["by the keyboard", "by the system"])
def test_a_stopped_map_leaves_nothing(stop, whole_site, tmp_path):
    code, last = stopped(tmp_path, whole_site, stop)
    assert last == "Stopped. Nothing was left half-written.\n"
    assert code == 130
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_a_killed_map_leaves_one_folder_named_unfinished_and_the_next_map_is_whole(whole_site, tmp_path):
    code, _ = stopped(tmp_path, whole_site, signal.SIGKILL)
    assert code == -signal.SIGKILL
    (left,) = (path for path in tmp_path.iterdir() if path.name != "site")
    assert left.name.startswith("results.unfinished-")
    outcome = run(tmp_path, *MAP)
    assert outcome.code == 0, outcome.stderr
    assert (tmp_path / "results" / "record.zip").is_file()
    new = set(outcome.after) - set(outcome.before)
    assert new and all(path.split("/")[0] == "results" for path in new)
