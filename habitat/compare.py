"""Two records, folders of results or profiles held against each other: numbers, files, versions, maps, conclusions."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.compare_parameters import ParameterChange, parameter_changes
from layers.fault import Fault, RecordError

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from habitat.compare_maps import MapComparison
    from habitat.record_file import Record
    from habitat.reproduce_cause import VersionChange


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """What differs between a first and a second record, or profile."""

    first: str
    second: str
    parameters: tuple[ParameterChange, ...]
    inputs: tuple[str, ...]  # a sentence each
    software: tuple[VersionChange, ...]
    maps: tuple[MapComparison, ...] | None  # None between profiles, and where the grids differ
    hectares: pd.DataFrame | None = field(repr=False)  # of `habitat.compare_maps.changed_hectares`
    remarks: tuple[str, ...]

    @property
    def is_same(self) -> bool:
        """Whether nothing differs that a map is made from, nor any class of any cell."""
        is_same_map = self.maps is None or all(one.is_same for one in self.maps)
        return not (self.parameters or self.inputs or self.software or self.remarks) and is_same_map


def compare(first: str | Path, second: str | Path) -> Comparison:
    """What differs between two records, folders of results or profiles.

    Parameters
    ----------
    first, second : path
        Both a record (zip file or folder of results), or both a profile (a .toml file, or the name of a shipped one).

    Raises
    ------
    RecordError
        If one is a profile and the other is not, or a record is refused.
    ProfileError
        With every fault of a profile.
    """
    are_profiles = [_is_profile(one) for one in (first, second)]
    if all(are_profiles):
        return _of_profiles(first, second)
    if any(are_profiles):
        record = second if are_profiles[0] else first
        fault = Fault(str(record), "a profile cannot be compared with a record.", "Name two records or two profiles.")
        raise RecordError("command line", [fault])
    from habitat.record_file import open_record

    return compare_records(open_record(first), open_record(second))


def compare_records(first: Record, second: Record) -> Comparison:
    """What differs between two records that were opened; of appraisals, the maps are those with the proposals in place.

    Raises
    ------
    RecordError
        If a map in one of them is not what it says of it.
    """
    from habitat.compare_maps import changed_hectares, hectares_of_classes, map_comparisons
    from habitat.reproduce_cause import version_changes

    remarks = []
    maps = [class_maps(record) for record in (first, second)]
    sizes = [record.grid.cell_hectares for record in (first, second)]
    is_one_grid = first.table.grid.model_dump(exclude={"seasons"}) == second.table.grid.model_dump(exclude={"seasons"})
    if not is_one_grid:
        remarks.append("The grids differ, so the maps are not compared cell by cell; the hectares are.")
    if (first.table.appraisal is None) != (second.table.appraisal is None):
        remarks.append("One is the record of an appraisal, with its proposals in place, and the other of a map.")
    return Comparison(
        first=first.name,
        second=second.name,
        parameters=(
            *parameter_changes("site", first.site, second.site),
            *parameter_changes("profile", first.profile, second.profile),
        ),
        inputs=tuple(_input_changes(first, second)),
        software=version_changes(first.table.software, second.table.software),
        maps=tuple(map_comparisons(*maps, cell_hectares=sizes[0])) if is_one_grid else None,
        hectares=changed_hectares(
            *(hectares_of_classes(held, cell_hectares=size) for held, size in zip(maps, sizes, strict=True))
        ),
        remarks=tuple(remarks),
    )


def score_pairs(first: str | Path, second: str | Path) -> dict[str, tuple[xr.DataArray, xr.DataArray]]:
    """Scores that differ between two records of one grid and of the same seasons, as `write_difference_maps` takes."""
    from habitat.compare_maps import SCORES
    from habitat.record_file import open_record

    records = [open_record(one) for one in (first, second)]
    held = {name: [one.result(name, after=one.table.appraisal is not None) for one in records] for name in SCORES}
    return {
        name: (one, other)
        for name, (one, other) in held.items()
        if one is not None and other is not None and one.shape == other.shape and not one.identical(other)
    }


def class_maps(record: Record) -> dict[str, xr.DataArray]:
    """The maps of classes that a record keeps, by name; of an appraisal, with the proposals in place."""
    from habitat.compare_maps import CLASSES

    after = record.table.appraisal is not None
    held = {name: record.result(name, after=after) for name in CLASSES}
    return {name: layer for name, layer in held.items() if layer is not None}


def _of_profiles(first: str | Path, second: str | Path) -> Comparison:
    import tomllib

    from habitat.profile import read_profile
    from habitat.profile_text import profile_text

    documents = [tomllib.loads(profile_text(read_profile(one))) for one in (first, second)]
    return Comparison(
        first=Path(first).name,
        second=Path(second).name,
        parameters=tuple(parameter_changes("profile", *documents)),
        inputs=(),
        software=(),
        maps=None,
        hectares=None,
        remarks=(),
    )


def _is_profile(place: str | Path) -> bool:
    from habitat.profile import shipped_profiles

    path = Path(place)
    return path.suffix == ".toml" or (not path.exists() and str(place) in shipped_profiles())


def _input_changes(first: Record, second: Record) -> list[str]:
    before, after = ({one.file: one for one in record.table.inputs} for record in (first, second))
    said = []
    for file in dict.fromkeys([*before, *after]):
        if file not in after:
            said.append(f"{file}: in the first only")
        elif file not in before:
            said.append(f"{file}: in the second only")
        elif before[file].parts != after[file].parts:
            said.append(f"{file}: other bytes (SHA-256 {before[file].sha256[:12]}... -> {after[file].sha256[:12]}...)")
    return said
