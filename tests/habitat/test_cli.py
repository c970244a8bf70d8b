"""The command as its user runs it, on a small whole site."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from habitat.record_file import open_record
from habitat.site_map import map_site
from tests.proposals import CHANNEL, DREDGED, OUTFALL, PIPE, write
from tests.sites import write_small_site

ROOT = Path(__file__).parents[2]


def shallows(*words: object, cwd: Path) -> subprocess.CompletedProcess:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "habitat.cli", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


@pytest.fixture(scope="module")
def work(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("work")
    write_small_site(folder / "site")
    return folder


@pytest.fixture(scope="module")
def mapped(work) -> subprocess.CompletedProcess:
    ran = shallows("map", "site", "--out", "results", "--date", "2026-01-31", cwd=work)
    assert ran.returncode == 0, ran.stderr
    return ran


def test_map_tells_its_steps_on_stderr_and_its_result_on_stdout(mapped):
    assert mapped.stdout == "Wrote the results to results. Start with results/README.txt.\n"
    steps = mapped.stderr.splitlines()
    assert all(re.fullmatch(r"\d+ of \d+: .+", line) for line in steps), steps
    assert "2 of 22: reading bed.tif" in steps
    assert any(line.endswith("writing maps") for line in steps)


def test_a_second_map_of_the_same_files_has_the_same_cells_to_the_byte(work, mapped):
    again = shallows("map", "site", "--out", "again", "--date", "2026-01-31", cwd=work)
    assert again.returncode == 0, again.stderr
    first, second = (open_record(work / name) for name in ("results", "again"))
    assert first.root == second.root
    for file in sorted((work / "results" / "rasters").rglob("*.tif")):
        assert file.read_bytes() == (work / "again" / file.relative_to(work / "results")).read_bytes(), file.name


def test_results_name_no_place_on_this_machine(work, mapped):
    for file in sorted((work / "results").rglob("*")):
        if file.is_file():
            assert str(work).encode() not in file.read_bytes(), file.name


def test_check_prints_a_table_of_every_layer(work):
    ran = shallows("check", "site", cwd=work)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.startswith("Small site (invented): no fault found.\n")
    found = map_site(work / "site")
    for name in found.layers.data_vars:
        if name != "surface":
            assert re.search(rf"^ *{name} ", ran.stdout, re.MULTILINE), name
    assert re.search(r" water_depth +m +900 +0 ", ran.stdout), "900 water cells, none missing"


def test_a_new_site_says_what_has_to_be_filled_in(work):
    ran = shallows("new", "fresh", cwd=work)
    assert ran.returncode == 0, ran.stderr
    checked = shallows("check", "fresh", cwd=work)
    assert checked.returncode == 2
    assert "grid.crs: this is missing." in checked.stderr


def test_a_new_site_around_a_file_takes_its_grid(work):
    ran = shallows("new", "around", "--around", "site/bed.tif", "--cell", 50, cwd=work)
    assert ran.returncode == 0, ran.stderr
    site = tomllib.loads((work / "around" / "site.toml").read_text("utf-8"))
    assert site["grid"] == {
        "crs": "EPSG:32745",
        "west": 500000,
        "south": 7770000,
        "east": 502000,
        "north": 7771500,
        "cell": 50,
    }


def test_every_command_the_readme_names_exists():
    helped = subprocess.run([sys.executable, "-m", "habitat.cli", "--help"], capture_output=True, text=True, cwd=ROOT)
    known = set(re.findall(r"^    (\w+)(?: |$)", helped.stdout, re.MULTILINE))
    assert known == {"new", "demo", "check", "map", "appraise", "template", "record", "reproduce", "compare", "serve"}
    named = set(re.findall(r"shallows (\w+)", (ROOT / "README.md").read_text("utf-8")))
    assert named <= known | {"SITE"}


def test_the_version_is_that_of_the_package():
    from layers import __version__

    ran = subprocess.run([sys.executable, "-m", "habitat.cli", "--version"], capture_output=True, text=True, cwd=ROOT)
    assert ran.stdout == f"shallows {__version__}\n"


def test_appraise_seeks_the_least_change_beside_what_is_approved(work):
    write(work / "basin.geojson", (DREDGED | {"season": "wet"}, CHANNEL))
    write(work / "pipe.geojson", (OUTFALL, PIPE))
    limits = ("--seek", "season", "--at-most-loss", "0", "--approved", "pipe.geojson")
    ran = shallows("appraise", "site", "basin.geojson", *limits, cwd=work)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.startswith("No other season meets the limits (a loss of at most 0 habitat units")
    for variant in ("as it was given", "in the dry season", "all the year"):
        assert re.search(rf"^ *{variant} +[\d,.]+ +\w+ +no", ran.stdout, re.MULTILINE), ran.stdout
    assert "Approved already, and in place before: pipe.geojson." in ran.stdout
    assert "local law and licensed practice decide" in ran.stdout
