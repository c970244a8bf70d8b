"""The command as its user runs it, on a small whole site."""

from __future__ import annotations

import html
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pandas as pd
import pytest

from habitat.appraisal import appraise
from habitat.appraisal_range import range_of_loss, sentences
from habitat.approved import with_approved
from habitat.cli import _parser
from habitat.proposal import read_proposal
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


def test_a_second_map_of_the_same_files_is_the_same_to_the_byte(work, mapped):
    again = shallows("map", "site", "--out", "again", "--date", "2026-01-31", cwd=work)
    assert again.returncode == 0, again.stderr
    first, second = (
        {path.relative_to(work / name).as_posix(): path.read_bytes() for path in (work / name).rglob("*.*")}
        for name in ("results", "again")
    )
    assert first.keys() == second.keys() >= {"record.zip", "zones.gpkg", "results.nc", "maps/threat_wet.png"}
    assert [name for name in first if first[name] != second[name]] == []


def test_results_name_no_place_on_this_machine(work, mapped):
    for file in sorted((work / "results").rglob("*")):
        if file.is_file():
            assert str(work).encode() not in file.read_bytes(), file.name


def test_check_prints_a_table_of_every_layer(work, mapped):
    ran = shallows("check", "site", cwd=work)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.startswith("Small site (invented): no fault found.\n")
    layers = pd.read_csv(work / "results" / "tables" / "layers.csv")["layer"]
    assert len(layers) > 10
    for name in layers:
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
    on_records = {"record", "reproduce", "compare", "publish"}
    on_trust = {"doubt", "agreement"}
    assert known == {"new", "demo", "check", "map", "appraise", "template", "serve"} | on_records | on_trust
    named = set(re.findall(r"shallows (\w+)", (ROOT / "README.md").read_text("utf-8")))
    assert named <= known | {"SITE"}


def test_the_version_is_that_of_the_package():
    from layers import __version__

    ran = subprocess.run([sys.executable, "-m", "habitat.cli", "--version"], capture_output=True, text=True, cwd=ROOT)
    assert ran.stdout == f"shallows {__version__}\n"


ASKED = (
    *("--approved", "pipe.geojson", "--years", "10", "--draws", "20", "--seed", "4", "--limit", "1.5"),
    *("--seek", "season", "--at-most-loss", "0", "--date", "2026-03-05"),
)


@pytest.fixture(scope="module")
def appraised(work) -> subprocess.CompletedProcess:
    write(work / "basin.geojson", (DREDGED | {"season": "wet"}, CHANNEL))
    write(work / "pipe.geojson", (OUTFALL, PIPE))
    ran = shallows("appraise", "site", "basin.geojson", *ASKED, "--out", "report", cwd=work)
    assert ran.returncode == 0, ran.stderr
    return ran


def test_appraise_seeks_the_least_change_beside_what_is_approved(appraised):
    said = appraised.stdout
    assert said.startswith("No other season meets the limits (a loss of at most 0 habitat units")
    for variant in ("as it was given", "in the dry season", "all the year"):
        assert re.search(rf"^ *{variant} +[\d,.]+ +\w+ +no", said, re.MULTILINE), said
    assert "The account of basin.geojson as it was given:" in said
    assert "Approved already, and in place before: pipe.geojson." in said
    assert "local law and licensed practice decide" in said


def test_the_report_holds_what_was_sought_drawn_and_approved_and_the_command_to_do_it_again(work, appraised):
    tables = {path.stem: pd.read_csv(path, keep_default_na=False) for path in (work / "report/tables").iterdir()}
    assert list(dict.fromkeys(tables["variants"]["variant"])) == [
        "basin.geojson",
        "basin.geojson, in the dry season",
        "basin.geojson, all the year",
    ]
    # the same draws of the same proposal, made here
    found = map_site(work / "site")
    before = with_approved(found, [read_proposal(work / "pipe.geojson", found.inputs)])
    appraisal = appraise(before, [read_proposal(work / "basin.geojson", before.inputs)])
    expected = range_of_loss(appraisal, draws=20, seed=4, limit=1.5)
    for column in ("taken", "low", "median", "high"):
        assert tables["loss_range"][column].tolist() == pytest.approx(expected.losses[column].tolist(), abs=0.0051)
    assert [line for line in sentences(expected) if line not in appraised.stdout.splitlines()] == []
    adds_up = tables["cumulative"].pivot(index="season", columns="what", values="units_change")
    for _, row in adds_up.iterrows():
        parts = row["Approved already"] + row["Appraised here, beside it"]
        assert parts == pytest.approx(row["Both together"], abs=0.0101)
    record = open_record(work / "report")
    assert [one.name for one in record.table.appraisal.approved] == ["pipe.geojson"]
    assert (record.table.seeds, record.table.appraisal.recovery) == ({"range of the loss": 4}, 10.0)
    page = (work / "report" / "report.html").read_text("utf-8")
    command = shlex.split(html.unescape(re.search(r"<pre>(.*?)</pre>", page, re.DOTALL)[1]).replace("\\\n", ""))
    given, printed = (vars(_parser().parse_args(words)) for words in (["appraise", "s", "b", *ASKED], command[1:]))
    own = {"site", "proposals", "approved", "profile", "cell", "conditions", "out"}  # as kept beside the report
    assert {key: one for key, one in given.items() if key not in own} == {
        key: one for key, one in printed.items() if key not in own
    }
    kept = [*printed["proposals"], *printed["approved"]]
    assert [path.as_posix() for path in kept] == ["proposals/as_given/basin.geojson", "proposals/as_given/pipe.geojson"]
    assert all((work / "report" / path).is_file() for path in kept)
