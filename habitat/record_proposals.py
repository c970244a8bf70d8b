"""What a record keeps of an appraisal: the proposals as they were read, and the conditions they were held against."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.record_members import Content, digest_of
from habitat.record_schema import ProposalTable

if TYPE_CHECKING:
    from pyproj import CRS

    from habitat.proposal import Proposal


def proposal_tables(
    proposals: Sequence[Proposal], crs: CRS, room: Path, place: str
) -> tuple[list[ProposalTable], dict[str, Content]]:
    """The proposals as tables, and the files that hold them by the names of their members.

    A proposal that was read from a file is that file; one that was drawn or changed is written as GeoPackage in the
    projection of the site, into `room`. Members lie in the folder `place`.
    """
    tables, contents = [], {}
    for number, proposal in enumerate(proposals, start=1):
        is_of_file = (
            proposal.path is not None and proposal.path.is_file() and digest_of(proposal.path) == proposal.digest
        )
        source = proposal.path if is_of_file else _written(proposal, crs, room / f"{place}_{number}.gpkg")
        member = f"{place}/{number}_{_plain(proposal.name, source.suffix)}"
        contents[member] = source
        tables.append(
            ProposalTable(name=proposal.name, sha256=digest_of(source), features=len(proposal.features), member=member)
        )
    return tables, contents


def conditions_content(conditions: str | Path | None, title: str) -> bytes | None:
    """The file of conditions as bytes; without a path, the shipped one of that title, if there is one."""
    from importlib import resources

    from habitat.conditions import read_conditions, shipped_conditions

    shipped = resources.files("habitat") / "conditions"
    if conditions is None:
        names = [name for name in shipped_conditions() if read_conditions(name).title == title]
        return (shipped / f"{names[0]}.toml").read_bytes() if names else None
    if str(conditions) in shipped_conditions() and not Path(conditions).is_file():
        return (shipped / f"{conditions}.toml").read_bytes()
    return Path(conditions).read_bytes()


def _written(proposal: Proposal, crs: CRS, path: Path) -> Path:
    import geopandas as gpd

    from layers.export import write_geopackage

    tables = {}
    for kind in dict.fromkeys(feature.kind for feature in proposal.features):
        features = proposal.of_kind(kind)
        rows = [{"kind": kind, **feature.attributes} for feature in features]
        tables[kind.replace(" ", "_")] = gpd.GeoDataFrame(rows, geometry=[one.shape for one in features], crs=crs)
    write_geopackage(tables, path)
    return path


def _plain(name: str, suffix: str) -> str:
    stem = name.rpartition(".")[0] or name
    return "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in stem) + suffix
