"""Development proposals: read from a file or drawn on a page, checked as a whole, and turned into changes of a site.

proposal = read_proposal("marina.gpkg", inputs)
additions, digests = additions_of(proposal, inputs)
after = layers.scenario.derive_after(before, additions, digests)
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.proposal_additions import additions_of, remarks_of
from habitat.proposal_check import checked_features
from habitat.proposal_feature import Feature, Proposal, features_digest, moved, with_changes
from habitat.proposal_file import PLACE, projected_frame, read_frame
from layers.fault import Fault, ProposalError
from layers.inputs import Inputs, file_digest

if TYPE_CHECKING:
    import geopandas as gpd

__all__ = [
    "Feature",
    "Proposal",
    "additions_of",
    "moved",
    "proposal_of_features",
    "read_proposal",
    "remarks_of",
    "with_changes",
]


def read_proposal(path: str | Path, inputs: Inputs) -> Proposal:
    """The proposal in a vector file: GeoPackage with any number of layers, GeoJSON, KML, zipped shapefile and others.

    Parameters
    ----------
    path : path
        Every feature has a `kind` and the columns that its kind asks for: see `habitat.proposal_kinds.KINDS`.
    inputs : Inputs
        The site it is proposed for.

    Raises
    ------
    ProposalError
        With every fault of the file, of its features and of what is said of them.
    """
    path = Path(path)
    faults: list[Fault] = []
    frame = read_frame(path, inputs.site, faults)
    if frame is None:
        raise ProposalError(path.name, faults)
    blank = Proposal(name=path.name, path=path, digest=file_digest(path), features=())
    return _checked(blank, frame, inputs, faults)


def proposal_of_features(name: str, features: gpd.GeoDataFrame, inputs: Inputs) -> Proposal:
    """The proposal that was drawn on a page, from a table as a file would hold it; errors as of `read_proposal`.

    Parameters
    ----------
    name : str
        What it is to be called.
    features : GeoDataFrame
        In any CRS, with a column `kind` and those of the kinds.
    """
    faults: list[Fault] = []
    if not len(features):
        raise ProposalError(name, [Fault(name, "nothing is drawn.", "Draw what is proposed.")])
    frame = features.copy()
    frame[PLACE] = [f"{name}, feature {number}" for number in range(1, len(frame) + 1)]
    frame = projected_frame(frame, name, inputs.site, faults)
    if frame is None:
        raise ProposalError(name, faults)
    read = _checked(Proposal(name=name, path=None, digest="", features=()), frame, inputs, faults)
    return replace(read, digest=features_digest(read.features))


def _checked(blank: Proposal, frame: gpd.GeoDataFrame, inputs: Inputs, faults: list[Fault]) -> Proposal:
    """The proposal with the features of a table, if none has a fault."""
    remarks: list[str] = []
    features = checked_features(frame, blank.name, inputs, faults, remarks)
    if faults:
        raise ProposalError(blank.name, faults)
    proposal = replace(blank, features=features)
    additions_of(proposal, inputs)  # refuses what has no water, so that it is told when the file is read
    return replace(proposal, remarks=(*remarks, *remarks_of(proposal, inputs)))
