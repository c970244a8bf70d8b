"""What is water: decided by one named file, and compared with what the others say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.inputs import Inputs
from layers.quantity import LAND, UNKNOWN
from layers.site import FileEntry
from layers.tide import WaterLevels
from layers.water import surface_codes

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr

    from layers.grid import Grid


@dataclass(frozen=True, kw_only=True)
class Disagreement:
    """Cells on which the file that decides and another file differ about what is water."""

    decider: str
    other: str
    dry_in_other: int  # water for the decider, never under water for the other
    wet_in_other: int  # land for the decider, always under water for the other
    cells: int  # cells on which both say something
    cell_hectares: float

    def __str__(self) -> str:
        differing = self.dry_in_other + self.wet_in_other
        return (
            f"{self.decider} and {self.other} disagree on what is water in {differing:,} of {self.cells:,} cells "
            f"({100 * differing / max(self.cells, 1):.1f} %): {self.dry_in_other:,} cells "
            f"({self.dry_in_other * self.cell_hectares:,.0f} ha) are water in {self.decider} and dry at every tide in "
            f"{self.other}, "
            f"{self.wet_in_other:,} cells ({self.wet_in_other * self.cell_hectares:,.0f} ha) the other way round. "
            f"{self.decider} decides (decided_by in site.toml)."
        )


def surface(inputs: Inputs, bed: np.ndarray | None, levels: WaterLevels | None) -> tuple[np.ndarray, str]:
    """Codes of `layers.quantity.SURFACE` on the site's grid, and a sentence on how they were found."""
    decider = _decider(inputs)
    is_water, said = _water_said_by(decider, inputs, bed, levels)
    lowest, highest = (levels.levels.min(), levels.levels.max()) if levels else (None, None)
    codes = surface_codes(is_water, bed, lowest, highest)
    if decider.feeds == "bed_elevation":
        codes[np.isnan(bed)] = UNKNOWN
    return codes, said


def disagreements(inputs: Inputs, bed: np.ndarray | None, levels: WaterLevels | None) -> list[Disagreement]:
    """How far each other file that can say what is water departs from the one that decides."""
    decider = _decider(inputs)
    decided, _ = _water_said_by(decider, inputs, bed, levels)
    found = []
    for entry in inputs.site.files:
        if entry is decider or entry.feeds not in ("land", "sea", "bed_elevation"):
            continue
        if entry.feeds == "bed_elevation":
            lowest, highest = (levels.levels.min(), levels.levels.max()) if levels else (0.0, 0.0)
            dry, wet, known = bed > highest, bed < lowest, ~np.isnan(bed)
        else:
            wet, _ = _water_said_by(entry, inputs, bed, levels)
            dry, known = ~wet, np.ones_like(wet)
            if decider.feeds == "bed_elevation":
                known = ~np.isnan(bed)
        found.append(
            Disagreement(
                decider=decider.path.name,
                other=entry.path.name,
                dry_in_other=int(np.count_nonzero(decided & dry & known)),
                wet_in_other=int(np.count_nonzero(~decided & wet & known)),
                cells=int(np.count_nonzero(known)),
                cell_hectares=inputs.site.grid.cell_hectares,
            )
        )
    return found


def land_outline(inputs: Inputs, surface: xr.DataArray) -> gpd.GeoSeries:
    """Land as the site decides it: the polygons that decide, else the outline of the cells that are land."""
    decider = _decider(inputs)
    if decider.feeds == "land":
        return inputs.features[decider.name].geometry
    return cells_outlined(surface.to_numpy() == LAND, inputs.site.grid)


def cells_outlined(chosen: np.ndarray, grid: Grid) -> gpd.GeoSeries:
    """Outlines of the patches that the chosen cells form; `chosen` is bool, shape (y, x)."""
    import geopandas as gpd
    from rasterio.features import shapes
    from shapely.geometry import shape

    parts = [shape(part) for part, _ in shapes(chosen.astype(np.uint8), mask=chosen, transform=grid.transform)]
    return gpd.GeoSeries(parts, crs=grid.crs)


def cut_off_cells(is_swum: np.ndarray) -> int:
    """How many cells of water are not joined to the largest body by cells that share a side.

    A way through the water does not slip between two land cells that touch at a corner, so no distance from the
    largest body reaches these cells.

    Examples
    --------
    >>> cut_off_cells(np.array([[True, True, False], [False, False, True]]))
    1
    """
    from scipy.ndimage import label

    bodies, count = label(is_swum)
    if count < 2:
        return 0
    return int(is_swum.sum() - np.bincount(bodies.ravel())[1:].max())


def _decider(inputs: Inputs) -> FileEntry:
    return next(entry for entry in inputs.site.files if entry.name == inputs.site.decided_by)


def _water_said_by(
    entry: FileEntry, inputs: Inputs, bed: np.ndarray | None, levels: WaterLevels | None
) -> tuple[np.ndarray, str]:
    if entry.feeds == "bed_elevation":
        highest = float(levels.levels.max()) if levels else 0.0
        name = "highest water level" if levels else "datum"
        return bed < highest, f"water where the bed lies below {highest:.2f} m, the {name}"
    from layers.alignment import cover_fraction

    cover = cover_fraction(inputs.features[entry.name].geometry, inputs.site.grid)
    if entry.feeds == "land":
        return cover < 0.5, "water where land covers less than half of a cell"
    return cover >= 0.5, "water where sea covers at least half of a cell"
