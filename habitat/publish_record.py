"""A map to publish from the record of its results: made again, and the same, or not published."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.record_file import RECORD_FILE
from layers.fault import Fault, RecordError
from layers.step import OnStep, ignore

if TYPE_CHECKING:
    from habitat.site_map import SiteMap


def is_record(path: str | Path) -> bool:
    """Whether a path is a record.zip, or a folder of results that holds one."""
    path = Path(path)
    return path.suffix == ".zip" or (path / RECORD_FILE).is_file()


def map_of_record(path: str | Path, inputs: str | Path | None = None, *, on_step: OnStep = ignore) -> SiteMap:
    """The map of a record; of an appraisal, the site before.

    Parameters
    ----------
    path : path
        A record, or a folder of results that holds one.
    inputs : path, optional
        Folder of the site. A record keeps no sightings, and without them nothing could be searched for them.
    on_step : callable
        Told of each step before it starts.

    Raises
    ------
    RecordError
        If the map made again is not the same, or the sightings of the site are not at hand.
    """
    from habitat.record_file import open_record
    from habitat.reproduce import DIFFERENT, reproduce

    record = open_record(path)
    lacking = [
        one
        for one in record.table.inputs
        if one.feeds == "sighting" and (inputs is None or not (Path(inputs) / one.file).is_file())
    ]
    if lacking:
        remedy = "Give the folder of the site with --inputs: what is published is searched for the places in this file."
        raise RecordError(
            record.name, [Fault(one.file, "its sightings are not in the record.", remedy) for one in lacking]
        )
    again = reproduce(record, inputs, on_step=on_step)
    if again.verdict == DIFFERENT:
        remedy = "See: shallows reproduce. Publish what was checked, or map the site again."
        raise RecordError(record.name, [Fault("cells", f"the map made again is not the same ({again.cause}).", remedy)])
    return _with_files_of(again.found, inputs)


def _with_files_of(found: SiteMap, inputs: str | Path | None) -> SiteMap:
    """The map with its files where they stay: those it was made again from are gone."""
    if inputs is None:
        return found
    site = found.inputs.site
    gone = site.path.parent
    files = tuple(
        dataclasses.replace(entry, path=Path(inputs) / entry.path.relative_to(gone))
        if entry.path.is_relative_to(gone)
        else entry
        for entry in site.files
    )
    return dataclasses.replace(
        found, inputs=dataclasses.replace(found.inputs, site=dataclasses.replace(site, files=files))
    )
