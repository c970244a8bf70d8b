"""A record read by other versions of Python and of libraries: the seal by the standard library alone, the map by all.

Other interpreters are looked for by name, under the folders of common version managers, and in SHALLOWS_PYTHONS (paths
of interpreters that have the libraries, parted as in PATH).
"""

import json
import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from habitat.record import write_record
from habitat.record_file import open_record
from habitat.reproduce import SAME, WITHIN
from habitat.site_map import map_site
from tests.records import write_brief_site

ROOT = Path(__file__).parents[2]
FOLDERS = (
    Path.home() / ".pyenv" / "versions",
    Path.home() / ".local" / "share" / "uv" / "python",
    Path.home() / ".asdf" / "installs" / "python",
)
SEAL = """
import sys
sys.path.insert(0, sys.argv[1])
from habitat.record_archive import open_archive
print(open_archive(sys.argv[2]).root)
"""
AGAIN = """
import json, sys
sys.path.insert(0, sys.argv[1])
from habitat.reproduce import reproduce
made = reproduce(sys.argv[2])
print(json.dumps([made.verdict, made.cause and made.cause.kind, [one.name for one in made.software]]))
"""
VERSIONS = "import numba, numpy, rasterio; print(numba.__version__, numpy.__version__, rasterio.__gdal_version__)"


@cache
def interpreters(version: str) -> tuple[str, ...]:
    """Paths of interpreters of a version such as "3.12", those with the libraries first."""
    named = [*os.environ.get("SHALLOWS_PYTHONS", "").split(os.pathsep), shutil.which(f"python{version}") or ""]
    named += [str(path) for folder in FOLDERS for path in sorted(folder.glob(f"*{version}*/bin/python{version}"))]
    ask = "import sys; print('%d.%d' % sys.version_info[:2])"
    found = []
    for path in filter(None, named):
        ran = subprocess.run([path, "-I", "-c", ask], capture_output=True, text=True)
        if ran.stdout.strip() == version:
            found.append(path)
    return tuple(found)


def has_libraries(path: str) -> bool:
    """Whether an interpreter has what a map needs."""
    ask = "import geopandas, numba, pydantic, rasterio, scipy, tomlkit, utide, xarray"
    return subprocess.run([path, "-I", "-c", ask], capture_output=True).returncode == 0


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    folder = tmp_path_factory.mktemp("record")
    write_record(folder / "record.zip", map_site(write_brief_site(folder / "small")), date="2026-03-05")
    return folder / "record.zip"


def answer(path: str, code: str, record: Path) -> str:
    # kernels compiled by another version must not take the place of those beside the modules
    own = {**os.environ, "NUMBA_CACHE_DIR": str(record.parent / "kernels")}
    command = [path, "-I", "-B", "-c", code, str(ROOT), str(record)]
    ran = subprocess.run(command, capture_output=True, text=True, env=own)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


@pytest.mark.parametrize("version", ["3.12", "3.13"])
def test_the_seal_is_checked_by_a_bare_interpreter_with_the_same_digest(record, version):
    paths = interpreters(version)
    if not paths:
        pytest.skip("no interpreter of another version of Python is installed")
    assert answer(paths[-1], SEAL, record) == open_record(record).root


@pytest.mark.parametrize("version", ["3.12", "3.13"])
def test_the_map_is_made_again_and_what_differs_is_laid_to_a_version(record, version):
    paths = [path for path in interpreters(version) if has_libraries(path)]
    if not paths:
        pytest.skip("no interpreter of another version of Python has the libraries")
    verdict, cause, software = json.loads(answer(paths[0], AGAIN, record))
    assert "python" in software
    assert (verdict, cause) == ("the same", None) or cause == "version"


def test_the_map_is_made_again_by_other_versions_of_the_libraries(record):
    own = f"{sys.version_info[0]}.{sys.version_info[1]}"
    here = subprocess.run([sys.executable, "-c", VERSIONS], capture_output=True, text=True).stdout.split()
    for path in interpreters(own):
        there = subprocess.run([path, "-I", "-c", VERSIONS], capture_output=True, text=True).stdout.split()
        if there and not set(there) & set(here):
            break
    else:
        pytest.skip("NO ENVIRONMENT WITH OTHER VERSIONS OF THE LIBRARIES: see DEVELOPERS.md")
    verdict, cause, software = json.loads(answer(path, AGAIN, record))
    assert {"numpy", "numba", "GDAL"} <= set(software)
    assert verdict in (SAME, WITHIN), cause
