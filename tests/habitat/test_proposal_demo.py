"""The three proposals of the invented site: read without a fault, in four formats, and each as good or bad as told."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest

from habitat.proposal import additions_of, proposal_of_features, read_proposal, with_changes
from layers.demo import write_demo
from layers.derivation import Settings
from layers.inputs import read_inputs
from layers.recipe import derive
from layers.scenario import derive_after

CELL = 80.0


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    return read_inputs(write_demo(tmp_path_factory.mktemp("demo") / "site", cell=CELL))


def folder(inputs):
    return inputs.site.path.parent / "proposals"


def read(inputs, name):
    return read_proposal(folder(inputs) / name, inputs)


@pytest.mark.parametrize(
    ("name", "labels"),
    [
        ("marina.gpkg", ["dredged area 1", "dredged area 2", "moorings 1", "vessel route 1"]),
        ("road.zip", ["mangrove cleared 1", "structure 1"]),
        ("farm.geojson", ["outfall 1"]),
    ],
)
def test_each_is_read_without_a_fault_or_a_column_left_over(inputs, name, labels):
    proposal = read(inputs, name)
    assert [feature.label for feature in proposal.features] == labels
    assert not [remark for remark in proposal.remarks if "nothing is made of" in remark or "are stated" in remark]
    assert additions_of(proposal, inputs)[0]


def test_the_marina_is_the_same_as_a_kml(inputs, tmp_path):
    table = gpd.read_file(folder(inputs) / "marina.gpkg")
    table.to_crs(4326).to_file(tmp_path / "marina.kml", driver="KML", engine="pyogrio")
    wanted, found = (
        additions_of(read_proposal(path, inputs), inputs)[0]
        for path in (folder(inputs) / "marina.gpkg", tmp_path / "marina.kml")
    )
    assert [one.entry.feeds for one in wanted] == [one.entry.feeds for one in found]
    for one, other in zip(wanted, found, strict=True):
        columns = [column for column in one.features.columns if column not in ("geometry", "name")]
        assert one.features[columns].equals(other.features[columns])
        assert one.features.geometry.iloc[0].hausdorff_distance(other.features.geometry.iloc[0]) < 0.02


def test_the_farm_is_bad_in_the_wet_season_only(inputs):
    before = derive(inputs, Settings(wanted=("nitrogen_concentration",)))
    (pipe,) = read(inputs, "farm.geojson").features
    over = {}
    for season in ("wet", "dry"):
        variant = proposal_of_features("farm", _table(with_changes(pipe, season=season), inputs), inputs)
        made = derive_after(before, *additions_of(variant, inputs))
        old, new = (one.layer("nitrogen_concentration").sel(season=season).to_numpy() for one in (before, made))
        # 0.2 mg/L is where the shipped profile begins to count nitrogen as a pressure
        over[season] = (np.count_nonzero(new > 0.2) - np.count_nonzero(old > 0.2)) * inputs.site.grid.cell_hectares
    assert over["wet"] > 1000 and over["dry"] < 0.1 * over["wet"]


def test_the_marina_takes_seagrass_and_the_road_takes_none(inputs):
    beds = inputs.features["seagrass"]
    taken = {}
    for name in ("marina.gpkg", "road.zip"):
        shapes = gpd.GeoDataFrame(geometry=[one.shape for one in read(inputs, name).features if one.shape.area])
        both = gpd.overlay(beds, shapes.set_crs(beds.crs).dissolve())
        taken[name] = float((both.area * both["value"]).sum() / 10_000)
    before = derive(inputs, Settings(wanted=("seagrass_cover",)))
    for name, hectares in taken.items():
        made = derive_after(before, *additions_of(read(inputs, name), inputs))
        old, new = (np.nansum(one.layer("seagrass_cover")) * inputs.site.grid.cell_hectares for one in (before, made))
        # cells of which land is more than half count for nothing, so a little of what the polygons say is not there
        assert old - new == pytest.approx(hectares, abs=0.3)
    assert taken["marina.gpkg"] > 10 and taken["road.zip"] == 0


def _table(feature, inputs):
    columns = {"kind": [feature.kind], **{column: [value] for column, value in feature.attributes.items()}}
    return gpd.GeoDataFrame(columns, geometry=[feature.shape], crs=inputs.site.grid.crs)
