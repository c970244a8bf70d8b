"""Records for tests: of the small site, and copies of them with something changed and sealed again or not."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

from tests.sites import TABLES, site_text, write_small_site

LIST = "members.sha256"
OUTSIDE = (LIST, "made.toml")


# enough for layers that are made of others, numbers of the site file, seasons, and sightings to be withheld
BRIEF = ("coast", "bed", "tide", "salinity", "seagrass", "mangrove", "outlets", "spring", "nets", "seen")


def write_brief_site(folder: Path) -> Path:
    """The small site with fewer files, so that it is mapped in a blink; returns the path of its site file."""
    path = write_small_site(folder)
    path.write_text(site_text({name: TABLES[name] for name in BRIEF}), encoding="utf-8")
    return path


def members(path: Path) -> dict[str, bytes]:
    """The content of every member, read with nothing but the standard library."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def written(path: Path, content: Mapping[str, bytes]) -> Path:
    """A zip file of these members, as they are."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, held in content.items():
            archive.writestr(name, held)
    return path


def sealed(path: Path, content: Mapping[str, bytes]) -> Path:
    """A zip file of these members with a list that fits them, as somebody who means to deceive would write it."""
    inside = {name: held for name, held in content.items() if name not in OUTSIDE}
    lines = [f"{hashlib.sha256(held).hexdigest()}  {name}\n" for name, held in sorted(inside.items())]
    made = {name: held for name, held in content.items() if name == "made.toml"}
    return written(path, {**inside, **made, LIST: "".join(lines).encode()})


def edited(source: Path, target: Path, name: str, change: Callable[[str], str]) -> Path:
    """The record with the text of one member changed and sealed again."""
    content = members(source)
    before = content[name].decode("utf-8")
    after = change(before)
    assert after != before, "nothing was changed"
    return sealed(target, {**content, name: after.encode()})
