"""The three proposals of the invented site come out as their story says, by facts planted in its files.

Which one is bad is told from the drawings and the surveys by geopandas, not from a score of ours.
"""

from __future__ import annotations

import geopandas as gpd
import pytest

from habitat.appraisal import Appraisal, appraise
from habitat.appraisal_account import account_of, sentences
from habitat.appraisal_tables import unit_changes
from habitat.conditions import read_conditions
from habitat.proposal import read_proposal
from habitat.site_map import SiteMap, map_site
from habitat.starter import write_invented_site

FILES = {"marina": "marina.gpkg", "road": "road.zip", "farm": "farm.geojson"}


@pytest.fixture(scope="module")
def site(tmp_path_factory) -> SiteMap:
    folder = tmp_path_factory.mktemp("invented") / "lagoon"
    write_invented_site(folder, cell=80)
    return map_site(folder)


@pytest.fixture(scope="module")
def appraisals(site) -> dict[str, Appraisal]:
    folder = site.inputs.site.path.parent / "proposals"
    return {name: appraise(site, [read_proposal(folder / file, site.inputs)]) for name, file in FILES.items()}


def _drawn(site: SiteMap, name: str) -> gpd.GeoSeries:
    proposal = read_proposal(site.inputs.site.path.parent / "proposals" / FILES[name], site.inputs)
    return gpd.GeoSeries([feature.shape for feature in proposal.features], crs=site.inputs.site.grid.crs)


def _seagrass(site: SiteMap) -> gpd.GeoDataFrame:
    grown = gpd.read_file(site.inputs.site.path.parent / "seagrass.zip")
    return grown.to_crs(site.inputs.site.grid.crs)


def _spared(site: SiteMap, appraisal: Appraisal) -> dict[str, float]:
    table = unit_changes(site.assessment, appraisal.together.assessment)
    return {row.season: row.spared_change / row.spared_before for row in table.itertuples()}


def test_the_marina_digs_up_seagrass_and_is_bad_in_every_season(site, appraisals):
    grown = _seagrass(site)
    dug = _drawn(site, "marina").loc[lambda shapes: shapes.geom_type.str.contains("Polygon")].union_all()
    hectares = (grown.intersection(dug).area * grown["cover_pct"] / 100).sum() / 10_000
    assert hectares > 10, "planted: more than ten hectares of full cover lie under what is dug"
    before, after = (
        layers["seagrass_cover"].to_numpy() for layers in (site.layers, appraisals["marina"].together.layers)
    )
    lost = float((before - after)[before == before].sum()) * site.inputs.site.grid.cell_hectares
    assert lost == pytest.approx(hectares, rel=0.03)
    assert all(share < -0.05 for share in _spared(site, appraisals["marina"]).values())


def test_the_road_clears_a_strip_far_from_seagrass_and_is_fine(site, appraisals):
    drawn = _drawn(site, "road").union_all()
    mangrove = gpd.read_file(site.inputs.site.path.parent / "mangrove.gpkg")
    assert drawn.intersection(mangrove.union_all()).area / 10_000 < 0.01 * mangrove.area.sum() / 10_000
    assert _seagrass(site).distance(drawn).min() > 300, "planted: no seagrass within 300 m"
    assert all(abs(share) < 0.001 for share in _spared(site, appraisals["road"]).values())


def test_the_farm_is_bad_only_in_the_season_in_which_it_drains_its_ponds(site, appraisals):
    folder = site.inputs.site.path.parent / "proposals"
    (outfall,) = read_proposal(folder / FILES["farm"], site.inputs).of_kind("outfall")
    assert outfall.get("season") == "wet"
    village = gpd.read_file(site.inputs.site.path.parent / "outlets.geojson")["wet_kg_per_year"].sum()
    assert outfall.get("n_kg_year") > 3 * village, "planted: several times what the village sends"
    shares = _spared(site, appraisals["farm"])
    assert shares["wet"] < -0.005
    assert shares["dry"] == 0


def test_what_does_it_most_is_what_the_story_plants(site, appraisals):
    conditions = read_conditions()
    accounts = {name: account_of(appraisal, conditions) for name, appraisal in appraisals.items()}
    assert accounts["marina"].causes.iloc[0]["part"] == "dredging"
    assert accounts["farm"].causes.iloc[0]["part"] == "nutrients"
    assert accounts["road"].causes.empty
    broken = {name: sum(one.met is False for one in account.conditions) for name, account in accounts.items()}
    assert broken["marina"] >= 3
    assert broken["road"] == 0
    assert any("takes" in said for said in sentences(accounts["marina"]))
    assert "changes none" in sentences(accounts["road"])[0]
