"""The folder of the real strait: its files, its site file, and the profile that accepts what nobody mapped there."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from habitat.profile import read_profile

HERE = Path(__file__).parent
MIXING = """
[mixing]
open_edges = ["north", "south"]
dispersion = { value = 20, units = "m2/s", source = "chosen to try the plume; nobody measured it here" }
least_depth = { value = 0.3, units = "m", source = "chosen to try the plume" }

[reach]
units = "m"
source = "chosen to try the traffic"
vessels = 500
"""


def write_strait(folder: Path, data: str, *, more: str = "") -> Path:
    """Copy the strait into a folder; `more` is put at the end of its site file."""
    for file in (Path(data) / "great_sandy_strait").iterdir():
        shutil.copyfile(file, folder / file.name)
    (folder / "site.toml").write_text((HERE / "site.toml").read_text(encoding="utf-8") + more, encoding="utf-8")
    text = read_profile("marine_seagrass_grazer").text
    # nobody mapped seagrass, temperature or salinity for this folder: the profile has to say that this is accepted
    for given, wanted in (
        ("\nmay_lack = 2 ", "\nmay_lack = 3 "),
        ('["water_depth", "forage"]', '["water_depth"]'),
    ):
        assert text.count(given) == 1
        text = text.replace(given, wanted)
    (folder / "profile.toml").write_text(text, encoding="utf-8")
    return folder


def shallows(*words: object) -> subprocess.CompletedProcess:
    """The command, as its user would run it."""
    return subprocess.run([sys.executable, "-m", "habitat.cli", *map(str, words)], capture_output=True, text=True)
