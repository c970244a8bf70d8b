"""What features of a proposal do to the layers of the small site, beside areas, lengths and loads worked out apart."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pytest import approx
from scipy.ndimage import label
from shapely.affinity import rotate
from shapely.geometry import LineString, box

from habitat.proposal import additions_of, proposal_of_features, remarks_of
from habitat.proposal_footing import bars_here, width_of
from layers import quantity as q
from layers.derivation import Settings
from layers.dredge_work import works_of
from layers.inputs import read_inputs
from layers.recipe import derive
from layers.recipes.loads import outlet_loads
from layers.scenario import derive_after
from layers.water import mean_water_column
from tests.layers.test_recipes_loads import made_of
from tests.proposals import CHANNEL, DREDGED, MEADOW, MOORINGS, OUTFALL, PIPE, PLANTED, ROUTE, WAY, frame
from tests.sites import CELL, CRS, EAST, LAND_COLUMNS, NORTH, SOUTH, WEST, bed, write_small_site

REACH = 2000.0  # m, of every distance here
DISTANCES = ("dredging_distance", "landing_distance", "mangrove_distance")
WANTED = (
    *DISTANCES,
    "seagrass_cover",
    "nitrogen_concentration",
    "dredge_solids",
    "vessel_density",
    "keel_clearance",
)
HECTARES = CELL**2 / 10_000
SLANTED = rotate(CHANNEL, 27)  # whose edges run through cells


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    inputs = read_inputs(write_small_site(tmp_path_factory.mktemp("site") / "site"))
    return derive(inputs, Settings(wanted=WANTED, reach=dict.fromkeys(DISTANCES, REACH)))


def proposed(before, *features):
    return proposal_of_features("port", frame(*features), before.inputs)


def after(before, *features):
    """The derivation with a proposal of these features in place."""
    return derive_after(before, *additions_of(proposed(before, *features), before.inputs))


def change(before, made, name):
    old, new = (one.layer(name).to_numpy().astype(float) for one in (before, made))
    return new - old


def centres():
    x, y = np.meshgrid(WEST + CELL * (np.arange(40) + 0.5), NORTH - CELL * (np.arange(30) + 0.5))
    return shapely.points(x, y)


def seagrass_of(before):
    return gpd.read_file(before.site.path.parent / "seagrass.gpkg")


def hectares_of_seagrass(before, shape):
    """Seagrass under a shape, counted by its cover: by overlay of polygons. [ha]"""
    both = gpd.overlay(seagrass_of(before), gpd.GeoDataFrame(geometry=[shape], crs=CRS))
    return float((both.area * both["cover"] / 100).sum() / 10_000)


def test_a_dredged_area_is_as_deep_as_it_says_and_what_grew_there_is_gone(before):
    made = after(before, (DREDGED, CHANNEL))
    inside = shapely.contains(CHANNEL, centres())
    assert inside.sum() == 16
    assert made.layer("bed_elevation").to_numpy()[inside] == approx(-6.0)
    np.testing.assert_array_equal(made.layer("bed_elevation").to_numpy()[~inside], bed()[~inside])
    slanted = after(before, (DREDGED, SLANTED))
    lost = -np.nansum(change(before, slanted, "seagrass_cover")) * HECTARES
    assert lost == approx(hectares_of_seagrass(before, SLANTED), rel=1e-5)
    assert hectares_of_seagrass(before, SLANTED) > 2
    away = shapely.distance(centres(), shapely.union_all([SLANTED, box(501_500, SOUTH, 501_600, 7_770_800)]))
    water = slanted.is_swum
    assert slanted.layer("dredging_distance").to_numpy()[water] == approx(np.minimum(away, REACH)[water], abs=0.01)


def test_digging_does_not_fill_what_is_deeper(before):
    # down to 4 m: the bed is -3.5, -3.75, -4.0 and -4.25 m in the four columns of the channel
    made = after(before, (DREDGED | {"depth_m": 4.0}, CHANNEL))
    row = made.layer("bed_elevation").to_numpy()[16]
    assert row[22:26] == approx([-4.0, -4.0, -4.0, -4.25])


def test_a_dredge_clouds_the_water_of_its_own_season(before):
    proposal = proposed(before, (DREDGED | {"season": "dry", "name": "cut"}, CHANNEL))
    additions, digests = additions_of(proposal, before.inputs)
    made = derive_after(before, additions, digests)
    clouded = change(before, made, "dredge_solids")
    cloudiest = np.unravel_index(np.nanargmax(clouded[1]), clouded[1].shape)
    assert clouded[1][cloudiest] > 0 and shapely.contains(CHANNEL, centres())[cloudiest]
    # 500 m3/h of a bed of 800 kg/m3, 0.3 of it fines, 0.02 of them lost: by hand
    (entry,) = [addition for addition in additions if addition.entry.feeds == "dredge_work"]
    (work,) = works_of(entry.features, entry.entry, before.site, [])
    assert work.source == approx(500 / 3600 * 800 * 0.3 * 0.02) and work.season == "dry"
    # the wet season has no dredge: what differs there is the depth of the water only
    assert made.layer("dredge_solids").sel(season="wet").max() == 0


def test_a_land_claim_leaves_no_water(before):
    made = after(before, ({"kind": "land claim"}, CHANNEL))
    inside = shapely.contains(CHANNEL, centres())
    assert (made.layer("surface").to_numpy()[inside] == q.LAND).all()
    assert np.isnan(made.layer("seagrass_cover").to_numpy()[inside]).all()
    kept = made.layer("seagrass_cover").to_numpy()
    left = np.nansum(kept) * HECTARES
    meadow = seagrass_of(before).union_all()
    assert left == approx(0.6 * meadow.difference(CHANNEL).area / 10_000, rel=1e-5)


@pytest.mark.parametrize("slope", [0.0, 0.3, 0.7, 1.0, -0.45])
def test_a_line_that_bars_the_water_parts_it_in_two(before, slope):
    middle = 7_770_760
    wall = LineString([(WEST, middle - 1000 * slope), (EAST + 100, middle + 1100 * slope)])
    made = after(before, ({"kind": "structure", "bars": "yes"}, wall))
    assert label(before.is_swum)[1] == 1
    bodies, count = label(made.is_swum)
    assert count >= 2 and bodies[0, LAND_COLUMNS] != bodies[-1, -1]
    open_ = after(before, ({"kind": "structure", "bars": "no"}, wall))
    np.testing.assert_array_equal(open_.is_swum, before.is_swum)


@pytest.mark.parametrize("opening", [CELL, 3 * CELL])
@pytest.mark.parametrize("slope", [0.0, 0.3, 0.7, 1.0, -0.45])
def test_an_opening_of_a_cell_lets_the_water_through_its_middle(before, slope, opening):
    middle = 7_770_760
    wall = LineString([(WEST, middle - 1000 * slope), (EAST + 100, middle + 1100 * slope)])
    made = after(before, ({"kind": "structure", "bars": "yes", "opening_m": float(opening)}, wall))
    bodies, _ = label(made.is_swum, np.ones((3, 3)))  # an animal passes between corners
    assert bodies[0, LAND_COLUMNS] == bodies[-1, -1] != 0
    assert 0 < made.is_swum.sum() < before.is_swum.sum()


def test_an_opening_narrower_than_a_cell_bars_everything_and_says_so(before):
    wall = LineString([(WEST, 7_770_760), (EAST + 100, 7_770_760)])
    narrow = {"kind": "structure", "bars": "yes", "opening_m": CELL - 1.0, "bars_m": 0.1}
    closed = after(before, ({"kind": "structure", "bars": "yes"}, wall))
    np.testing.assert_array_equal(after(before, (narrow, wall)).is_swum, closed.is_swum)
    read = proposed(before, (narrow, wall))
    assert read.features[0].get("bars_m") == 0.1
    assert any(
        said.endswith("the map shows it closed: it bars all water and every animal there.") for said in read.remarks
    )


def test_trips_on_no_route_and_plants_that_have_yet_to_grow_are_told(before):
    alone = proposed(before, (MOORINGS, PIPE), (PLANTED | {"years": 7.0}, MEADOW))
    assert (
        "moorings: 12 trips a day start or end at 40 berths, and the vessel routes drawn carry 0. What is on no route "
        "is in no number: draw the way of these boats." in alone.remarks
    )
    assert any("which it is in 7 years; till then it is not there." in said for said in alone.remarks)
    carried = proposed(before, (MOORINGS, PIPE), (ROUTE, WAY))
    assert not any(said.startswith("moorings:") for said in carried.remarks)


def test_a_structure_is_widened_to_a_cell_and_no_more():
    assert width_of(LineString([(0, 0), (90, 0)])) == 0
    assert width_of(box(0, 0, 40, 8)) == approx(8)
    assert width_of(box(0, 0, 30, 30)) == approx(30)
    bent = LineString([(0, 0), (400, 0), (400, 300)]).buffer(10, cap_style="flat", join_style="mitre")
    assert width_of(bent) == approx(20, abs=0.01)
    assert bars_here(box(0, 0, 400, 8), 50.0).bounds[3] == approx(8 + (50.5 - 8) / 2)
    quay = box(0, 0, 400, 60)
    assert bars_here(quay, 50.0) is quay


def test_an_outfall_adds_its_load_and_none_of_it_is_lost(before):
    made = after(before, (OUTFALL, PIPE))
    old, new = (outlet_loads(one, "nitrogen")[None].kilograms_a_year.sum() for one in (before, made))
    assert (old, new) == (approx(12_000), approx(17_000))
    added = change(before, made, "nitrogen_concentration")
    depth = np.maximum(mean_water_column(bed().astype(float), before.levels(None).levels), 0.3)
    lost = np.nansum((added * depth)[:, LAND_COLUMNS:]) * CELL**2 * 0.05 / 86_400  # g/s
    over_the_edge = np.nansum(5.0 * depth[:, -1] * CELL * added[:, -1] / (CELL / 2))
    assert lost + over_the_edge == approx(5000 * 1000 / (365.25 * 86_400), rel=1e-4)


def test_an_outfall_of_one_season_is_felt_in_that_season(before):
    made = after(before, (OUTFALL | {"season": "wet"}, PIPE))
    field = made.layer("nitrogen_concentration")
    held = before.layer("nitrogen_concentration").to_numpy()
    np.testing.assert_array_equal(field.sel(season="dry").to_numpy(), held)
    assert float((field.sel(season="wet") - held).max()) > 0.01


def test_land_put_to_another_use_sends_what_that_use_sends(tmp_path):
    # 20 ha of forest become row crops: 20 * (9.0 - 2.46) kg/year of nitrogen, with the medians of Reckhow, Beaulac &
    # Simpson 1980, EPA 440/5-80-011 (from memory)
    made = made_of(tmp_path, seasons=False)
    old = outlet_loads(made, "nitrogen")[None].kilograms_a_year.sum()
    fields = box(496_500, 7_770_500, 497_500, 7_770_700)
    for word in ("Row Crops", 1, 1.0, "1"):
        proposal = proposal_of_features("farm", frame(({"kind": "land use", "cover": word}, fields)), made.inputs)
        assert proposal.remarks == () and proposal.features[0].get("cover") == "row crops"
    again = derive_after(made, *additions_of(proposal, made.inputs))
    assert outlet_loads(again, "nitrogen")[None].kilograms_a_year.sum() - old == approx(20 * (9.0 - 2.46), abs=0.05)
    with pytest.raises(ValueError) as refusal:
        proposal_of_features("farm", frame(({"kind": "land use", "cover": "cane"}, fields)), made.inputs)
    assert str(refusal.value).endswith(
        'farm, feature 1, column cover: "cane" is not in the site\'s table of covers. Write one of: row crops (1), '
        "forest (2), town (3)."
    )
    sliver = box(496_500, 7_770_500, 496_530, 7_770_530)
    proposal = proposal_of_features("farm", frame(({"kind": "land use", "cover": "town"}, sliver)), made.inputs)
    assert proposal.remarks == ("land use 1: it fills half of no cell of 100 m, so the map does not change.",)


def test_what_is_planted_grows_and_what_is_cleared_goes(before):
    made = after(before, (PLANTED, MEADOW), ({"kind": "seagrass cleared"}, SLANTED))
    gained = np.nansum(change(before, made, "seagrass_cover")) * HECTARES
    assert gained == approx(0.8 * MEADOW.area / 10_000 - hectares_of_seagrass(before, SLANTED), rel=1e-4)
    dug = after(before, (DREDGED, CHANNEL), (PLANTED, CHANNEL))
    assert (dug.layer("seagrass_cover").to_numpy()[shapely.contains(CHANNEL, centres())] == 0).all()


def test_the_way_to_the_mangrove_is_that_to_what_is_left_or_planted(before):
    stand = gpd.read_file(before.site.path.parent / "mangrove.gpkg").union_all()
    cleared, planted = box(500_440, 7_771_190, 500_610, 7_771_300), box(501_000, 7_770_100, 501_100, 7_770_150)
    made = after(before, ({"kind": "mangrove cleared"}, cleared), ({"kind": "mangrove planted", "share": 0.5}, planted))
    away = np.minimum(shapely.distance(centres(), stand.difference(cleared).union(planted)), REACH)
    water = made.is_swum
    assert made.layer("mangrove_distance").to_numpy()[water] == approx(away[water], abs=0.01)


def test_moorings_are_where_people_reach_the_water(before):
    basin = box(501_500, 7_771_200, 501_600, 7_771_300)
    made = after(before, (MOORINGS, basin))
    # open water without an obstacle: the shorter of two straight ways, to within the metric's 0.1 % and half a cell
    to_jetty, to_basin = (shapely.distance(centres(), at) for at in (shapely.Point(500_525, 7_770_525), basin))
    wanted, found = np.minimum(to_jetty, to_basin), made.layer("landing_distance").to_numpy()
    near = made.is_swum & (to_basin < to_jetty)
    assert np.abs(found - np.minimum(wanted, REACH))[near].max() < CELL / 2
    assert (change(before, made, "landing_distance")[before.is_swum] <= 1e-3).all()


def test_a_vessel_route_adds_its_trips_and_its_draft(before):
    made = after(before, (ROUTE | {"draft_m": 3.0}, WAY))
    added = change(before, made, "vessel_density")
    for row, column in ((15, 22), (15, 25), (2, 24)):
        circle = centres()[row, column].buffer(300, quad_segs=256)
        kilometres = WAY.intersection(circle).length / 1000
        assert added[row, column] == approx(12 * kilometres / (np.pi * 0.3**2), rel=1e-3)
    # the ferry of the site draws 1.5 m; along both its keel and ours the deeper counts
    clearance = made.layer("keel_clearance").to_numpy()[15]
    low = before.layer("keel_clearance").to_numpy()[15, 30] + bed()[15, 30] + 1.5
    assert clearance[20] == approx(low - bed()[15, 20] - 3.0, abs=1e-5)


def test_a_route_counts_beside_routes_of_seasons(before):
    entries = tuple(replace(e, season="wet") if e.feeds == "vessel_route" else e for e in before.site.files)
    inputs = replace(before.inputs, site=replace(before.site, files=entries))
    seasonal = derive(inputs, Settings(wanted=("vessel_density",)))
    proposal = proposal_of_features("port", frame((ROUTE, WAY)), inputs)
    additions, digests = additions_of(proposal, inputs)
    assert [addition.entry.name for addition in additions] == [
        "port: vessel route 1, traffic, wet", "port: vessel route 1, traffic, dry"
    ]  # fmt: skip
    density = derive_after(seasonal, additions, digests).layer("vessel_density")
    assert float(density.sel(season="dry")[15, 22]) > 0
    wet = seasonal.layer("vessel_density").sel(season="wet")
    assert float(density.sel(season="wet")[15, 22] - wet[15, 22]) == approx(
        float(density.sel(season="dry")[15, 22]), rel=1e-5
    )


def test_entries_are_named_after_their_feature_and_say_where_they_come_from(before):
    proposal = proposed(before, (DREDGED, CHANNEL), (OUTFALL | {"p_kg_year": 10.0}, PIPE), (DREDGED, MEADOW))
    additions, digests = additions_of(proposal, before.inputs)
    names = [addition.entry.name for addition in additions]
    assert names == [
        "port: dredged area 1, bed",
        "port: dredged area 1, plume",
        "port: dredged area 1, footprint",
        "port: outfall 1, nitrogen",
        "port: outfall 1, phosphorus",
        "port: dredged area 2, bed",
        "port: dredged area 2, plume",
        "port: dredged area 2, footprint",
        "port: dredged area 1, seagrass",
        "port: dredged area 1, mangrove",
        "port: dredged area 2, seagrass",
        "port: dredged area 2, mangrove",
    ]
    assert digests == dict.fromkeys(names, proposal.digest)
    made = derive_after(before, additions, digests)
    assert 'dredged area 1 of the proposal "port"' in made.layer("bed_elevation").attrs["source"]
    assert "port" in made.layer("seagrass_cover").attrs["files"].split("; ")


def test_what_the_site_cannot_work_out_is_said_and_left_out(before):
    bare = replace(before.inputs, site=replace(before.site, amounts={}))
    proposal = proposal_of_features("port", frame((OUTFALL, PIPE), (DREDGED, CHANNEL)), bare)
    assert not {"nitrogen_load", "dredge_work"} & {one.entry.feeds for one in additions_of(proposal, bare)[0]}
    assert remarks_of(proposal, bare)[-2:] == (
        "outfall 1: nothing is worked out of its nitrogen, as the site file lacks mixing.dispersion, "
        "mixing.least_depth, mixing.nitrogen_loss, background.nitrogen.",
        "dredged area 1: nothing is worked out of its plume, as the site file lacks mixing.dispersion, "
        "mixing.least_depth.",
    )
    files = tuple(entry for entry in before.site.files if entry.feeds != "seagrass")
    unmapped = replace(before.inputs, site=replace(before.site, files=files))
    proposal = proposal_of_features("port", frame(({"kind": "seagrass cleared"}, CHANNEL)), unmapped)
    assert additions_of(proposal, unmapped)[0] == []
    assert proposal.remarks == ("seagrass cleared 1: the site has no map of seagrass, so nothing is taken from it.",)
