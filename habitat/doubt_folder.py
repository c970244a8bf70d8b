"""How sure a site's conclusions are, as a folder: tables, and maps of chance and confidence."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from habitat.colours import class_colours
from habitat.doubt_ranking import sentences as ranking_sentences
from habitat.report.rasters import by_season, file_stem
from habitat.result import SUITABILITY_CLASS
from habitat.uncertainty import sentences
from layers.atomic import whole_folder
from layers.export import write_geotiff, write_table
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.doubt_ranking import DoubtRanking
    from habitat.site_doubt import SiteDoubt

MAPS = ("chance_good", "chance_fair_or_better", "confidence", "likeliest_class")
README = "README.txt"
_LIMITS = (
    "A chance is a share of draws: what follows if the doubts that are stated are right and nothing else is wrong.\n"
    "Screening-level evidence: local law and licensed practice decide."
)


def doubt_text(doubt: SiteDoubt, ranking: DoubtRanking) -> str:
    """The intervals, the ranking and what was taken as exact, in sentences."""
    said = sentences(doubt.found)
    parts = [
        f"{doubt.site_map.inputs.site.title}, read for: {doubt.site_map.profile.title}",
        f"{doubt.number:,} draws, seed {doubt.seed}",
        "",
        *said,
        "",
        "What the hectares depend on:",
        *ranking_sentences(ranking),
        "",
        _LIMITS,
    ]
    return "\n".join(parts)


def write_doubt(folder: str | Path, doubt: SiteDoubt, ranking: DoubtRanking, *, on_step: OnStep = ignore) -> None:
    """Write tables and maps into a new folder, whole or not at all.

    Tables: conclusions.csv, ranking.csv, screening.csv, in_doubt.csv, taken_as_exact.csv. Maps, a GeoTIFF for each
    season: `MAPS`. The sentences stand in `README`.

    Raises
    ------
    RecordError
        If the folder exists, or the one it is to lie in does not.
    """
    site, found = doubt.site_map.inputs.site, doubt.found
    tags = {"site": site.title, "profile": doubt.site_map.profile.title, "draws": str(doubt.number)}
    tags |= {"seed": str(doubt.seed)} | ({"invented": "yes: not a real place"} if site.invented else {})
    with whole_folder(folder) as place:
        on_step(Step(1, 2, "writing tables"))
        (place / README).write_text(doubt_text(doubt, ranking) + "\n", encoding="utf-8")
        write_table(found.conclusions.rename(columns=_in_hectares), place / "conclusions.csv")
        write_table(ranking.table, place / "ranking.csv")
        write_table(ranking.screened, place / "screening.csv")
        write_table(_in_doubt(doubt), place / "in_doubt.csv")
        write_table(pd.DataFrame({"taken_as_exact": found.doubts.exact}), place / "taken_as_exact.csv")
        on_step(Step(2, 2, "writing maps"))
        for name in MAPS:
            for season, layer in by_season(found.cells[name]):
                coloured = "flag_meanings" in layer.attrs
                colours = class_colours(SUITABILITY_CLASS.name, 3) if coloured else None
                write_geotiff(layer, place / f"{file_stem(name, season)}.tif", colours=colours, tags=tags)


def _in_hectares(column: str) -> str:
    return f"{column}_ha" if column in ("taken", "low", "median", "high") else column


def _in_doubt(doubt: SiteDoubt) -> pd.DataFrame:
    columns = ["key", "label", "spread", "units", "distribution", "source"]
    rows = [[getattr(one, column) for column in columns] for one in doubt.found.doubts.items]
    return pd.DataFrame(rows, columns=columns)
