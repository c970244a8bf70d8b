"""A page for everybody: the map, what it says, what it cannot say, who decides, and whose data it is. One A4 PDF."""

from __future__ import annotations

import datetime
import json
import shutil
import tempfile
from dataclasses import asdict, dataclass
from importlib import resources
from pathlib import Path

NOT_FILLED = "Those who keep this site have not said it yet. Ask them before you act."


@dataclass(frozen=True, kw_only=True)
class Section:
    """A heading and one paragraph, or several points."""

    heading: str
    points: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Briefing:
    """What the page says."""

    title: str
    subtitle: str
    banner: str  # "" for a real place
    described: str  # the map, for those who cannot see it
    left: tuple[Section, ...]
    right: tuple[Section, ...]


def briefing_pdf(briefing: Briefing, picture: Path, *, date: str) -> bytes:
    """The page as PDF; the same words, picture and ISO date give the same bytes."""
    import typst

    stamp = datetime.datetime.combine(datetime.date.fromisoformat(date), datetime.time(), tzinfo=datetime.UTC)
    with tempfile.TemporaryDirectory() as bench:  # the typesetter reads from one folder only
        place = Path(bench)
        shutil.copyfile(picture, place / "map.png")
        content = asdict(briefing) | {"map": "map.png"}
        (place / "briefing.json").write_text(json.dumps(content, ensure_ascii=False), encoding="utf-8")
        template = (resources.files("habitat.report") / "briefing.typ").read_text(encoding="utf-8")
        (place / "briefing.typ").write_text(template, encoding="utf-8")
        return typst.compile(
            place / "briefing.typ", root=place, ignore_system_fonts=True, format="pdf", timestamp=stamp
        )
