import argparse
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from pypdf import PdfReader
from shapely.geometry import Point

from habitat import publish_files as files_of
from habitat.cli_publish import add_commands
from habitat.darwin_core import RELEASED
from habitat.publish import all_sightings, publish, require_clean
from habitat.publish_layers import block_classes, block_means, block_size, public_classes, sensitive_layers
from habitat.publish_record import map_of_record
from habitat.publish_rules import read_rules
from habitat.publish_stranger import learned_from_classes
from habitat.record import write_record
from habitat.report.briefing import NOT_FILLED
from habitat.site_map import map_site
from habitat.zones import hectares_by_class
from layers.fault import RecordError
from layers.grid import Grid
from tests import sites
from tests.conventions import complaints

PUBLISHED = Path(__file__).parents[1] / "published"
DATE = "2026-03-05"
RULES = replace(read_rules(), herd=30, least_water=0.0, words={"on_seeing_an_animal": "Keep away: 50 m."})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("site")


@pytest.fixture(scope="module")
def found(folder):
    return map_site(sites.write_small_site(folder))


@pytest.fixture(scope="module")
def many(found):
    """The same site with thirty sightings, all within one cell of 0.1 degree."""
    own = found.inputs.features["seen"]
    random = np.random.default_rng(4)
    places = [Point(x, y) for x, y in random.uniform((501_000, 7_770_300), (501_900, 7_771_300), (30, 2))]
    table = gpd.GeoDataFrame(pd.concat([own.iloc[[0]]] * 30, ignore_index=True), geometry=places, crs=own.crs)
    table["row"] = range(30)
    return replace(found, inputs=replace(found.inputs, features={**found.inputs.features, "seen": table}))


@pytest.fixture(scope="module")
def public(many, tmp_path_factory):
    out = tmp_path_factory.mktemp("out") / "public"
    steps = []
    told = publish(many, out, RULES, date=DATE, on_step=steps.append)
    return out, told, steps


def test_the_folder_holds_what_its_readme_names(public):
    out, _, steps = public
    names = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    assert {"README.txt", "briefing.pdf", "classes.nc", "classes.gpkg", "occurrences.csv"} <= names
    assert {"hectares_by_class.csv", "hectares_by_zone.csv", "rasters/concern_wet.tif", "maps/concern_dry.png"} <= names
    assert steps[-1].label == "reading every byte for places of sightings"
    with xr.open_dataset(out / "classes.nc") as data:
        assert data.attrs["Conventions"].startswith("CF-")
        assert all(data.attrs[key] for key in ("title", "institution", "source", "history", "references", "licence"))


def test_the_table_of_sightings_tells_one_square_and_no_more(public, many):
    table = pd.read_csv(public[0] / "occurrences.csv")
    assert len(table) == 30
    assert len(table[["decimalLatitude", "decimalLongitude"]].drop_duplicates()) == 1
    assert "squares of 0.1 degree" in public[1]
    assert public[1] in " ".join((public[0] / "README.txt").read_text().split())
    degrees = many.inputs.features["seen"].to_crs(4326).geometry
    assert (abs(degrees.x - table["decimalLongitude"][0]) <= 0.05).all()
    assert (abs(degrees.y - table["decimalLatitude"][0]) <= 0.05).all()


def test_the_page_is_one_and_says_who_decides_and_what_is_not_filled_in(public):
    reader = PdfReader(public[0] / "briefing.pdf")
    assert len(reader.pages) == 1
    text = " ".join(reader.pages[0].extract_text().split())
    for words in ("INVENTED SITE", "Keep away: 50 m.", NOT_FILLED, "Local law", "It cannot say where an animal is"):
        assert words in text


@pytest.fixture
def tables_only(monkeypatch):
    """Leaves out the drawing of maps, which takes long and is looked at above."""
    monkeypatch.setattr(files_of, "PARTS", (("tables", files_of._write_tables),))


def test_too_few_sightings_and_a_herd_not_said_are_withheld_in_words(found, tmp_path, tables_only):
    assert "no area holds enough" in publish(found, tmp_path / "few", RULES, date=DATE)
    told = publish(found, tmp_path / "unsaid", read_rules(), date=DATE)
    assert "withheld, for the animals' safety" in told
    for name in ("few", "unsaid"):
        assert sorted(path.name for path in (tmp_path / name).iterdir()) == [
            "hectares_by_class.csv",
            "hectares_by_zone.csv",
        ]


def test_a_folder_that_gives_a_sighting_away_never_appears(found, tmp_path, monkeypatch):
    def slip(folder, job):
        place = all_sightings(job.found).to_crs(4326).geometry.iloc[1]
        (folder / "notes.txt").write_text(f"calf at {place.y:.3f}, {place.x:.3f}")

    monkeypatch.setattr(files_of, "PARTS", (("tables", files_of._write_tables), ("a slip", slip)))
    with pytest.raises(RecordError, match=r"notes\.txt: a sighting can be found in it") as refused:
        publish(found, tmp_path / "out", RULES, date=DATE)
    assert "87." not in str(refused.value)
    assert list(tmp_path.iterdir()) == []


def test_the_site_file_of_sightings_itself_is_refused(found, folder, tmp_path):
    (tmp_path / "a.csv").write_bytes((folder / "seen.csv").read_bytes())
    with pytest.raises(RecordError, match="decimal text"):
        require_clean(tmp_path, found, all_sightings(found), RULES)


@pytest.fixture(scope="module")
def secret(found):
    """The small site with a sensitive file of seagrass: of habitat and of the meeting, not of threat."""
    site = found.inputs.site
    files = tuple(replace(entry, sensitive=entry.name == "seagrass") for entry in site.files)
    return replace(found, inputs=replace(found.inputs, site=replace(site, files=files)))


def test_layers_that_rest_on_a_sensitive_file_are_told(secret):
    named = set(sensitive_layers(secret))
    assert "seagrass_cover" in named
    assert "surface" not in named


FINE = replace(RULES, category="4")  # 0.001 degree: 111 m, so blocks of 3 cells of 50 m


def test_no_boundary_finer_than_a_block_is_left_of_a_map_that_rests_on_a_sensitive_file(secret, found):
    classes, dropped, told = public_classes(secret, None, FINE)
    assert dropped == frozenset()
    assert "blocks of 0.15 km" in told
    assert "(forage)" in told  # what the factor is made of; cover itself is none
    assert "The map of habitat" in told
    assert "map of threat" not in told
    np.testing.assert_array_equal(classes["threat_class"], found.assessment["threat_class"])
    for name in ("suitability_class", "concern"):
        exact, coarse = found.assessment[name].to_numpy(), classes[name].to_numpy()
        assert not np.array_equal(exact, coarse)
        for season in coarse:
            for row in range(0, sites.ROWS, 3):
                for column in range(0, sites.COLUMNS, 3):
                    block = season[row : row + 3, max(column, sites.LAND_COLUMNS) : column + 3]  # land has no class
                    assert len(np.unique(block)) <= 1
    whole = hectares_by_class(classes)
    water = whole[whole["kind"] == "suitability"].groupby("season")["hectares"].sum()
    np.testing.assert_allclose(water, 30 * 30 * 0.25)  # as much water as before: 900 cells of 50 m


def test_the_scores_behind_a_coarse_map_are_not_published(secret, tmp_path, tables_only):
    told = publish(secret, tmp_path / "out", FINE, date=DATE)
    assert "blocks of 0.15 km" in told
    for name in ("hectares_by_class.csv", "hectares_by_zone.csv"):
        assert "habitat_units" not in pd.read_csv(tmp_path / "out" / name)


def test_a_map_is_left_out_where_no_block_may_be_told(secret, tmp_path, tables_only):
    rules = replace(RULES, category="withheld")
    _, dropped, told = public_classes(secret, None, rules)
    assert dropped == {"suitability_class", "concern"}
    assert "The map of habitat is left out" in told
    publish(secret, tmp_path / "out", rules, date=DATE)
    assert set(pd.read_csv(tmp_path / "out" / "hectares_by_class.csv")["kind"]) == {"threat"}


def test_nothing_is_published_where_every_map_or_the_shore_is_secret(found, tmp_path):
    site = found.inputs.site
    for names, why in (({entry.name for entry in site.files if entry.feeds != "land"}, "maps|surface"),):
        files = tuple(replace(entry, sensitive=entry.name in names) for entry in site.files)
        whole = replace(found, inputs=replace(found.inputs, site=replace(site, files=files)))
        with pytest.raises(RecordError, match=why):
            publish(whole, tmp_path / "out", replace(RULES, category="withheld"), date=DATE)
    assert not (tmp_path / "out").exists()


def test_a_block_has_the_commonest_class_of_its_water_and_none_where_less_than_half_is_known():
    codes = np.array([[1, 1, 0, 0], [2, 0, 0, 3], [2, 2, 1, 1], [1, 1, 0, 0]], np.uint8)
    water = np.ones((4, 4), bool)
    water[1, 1] = False
    expected = [[1, 1, 0, 0], [1, 0, 0, 0], [2, 2, 1, 1], [2, 2, 1, 1]]
    np.testing.assert_array_equal(block_classes(codes, water, 2), expected)


def test_the_outside_checker_finds_nothing_to_mend_in_the_published_netcdf(public, tmp_path):
    assert complaints(public[0] / "classes.nc", "cf:1.11", tmp_path) == []


def test_every_column_of_the_sightings_is_a_term_of_the_published_list(public):
    lines = (PUBLISHED / "darwin_core_terms.csv").read_text().splitlines()
    terms = {line for line in lines if not line.startswith("#")}
    columns = list(pd.read_csv(public[0] / "occurrences.csv"))
    assert columns == list(RELEASED)
    assert set(columns) <= terms


def test_a_species_of_its_own_category_is_searched_for_at_its_step(found, tmp_path):
    seen = all_sightings(found).assign(scientificName="Genus species")
    at = seen.to_crs(4326).geometry.iloc[0]
    (tmp_path / "a.txt").write_text(f"{at.y:.2f} {at.x:.2f}")
    third = replace(RULES, category="3")  # 0.01 degree may be told
    require_clean(tmp_path, found, seen, third)
    with pytest.raises(RecordError, match="decimal text"):
        require_clean(tmp_path, found, seen, replace(third, species={"Genus species": "2"}))


def test_the_results_are_published_from_their_record_with_the_sightings_at_hand(found, folder, tmp_path, tables_only):
    write_record(tmp_path / "record.zip", found, date=DATE)
    with pytest.raises(RecordError, match="its sightings are not in the record"):
        map_of_record(tmp_path)
    again = map_of_record(tmp_path, folder)
    np.testing.assert_array_equal(again.assessment["concern"], found.assessment["concern"])
    assert len(all_sightings(again)) == len(sites.SIGHTINGS)
    publish(again, tmp_path / "out", RULES, date=DATE)
    assert (tmp_path / "out" / "hectares_by_class.csv").is_file()


def test_blocks_are_doubled_until_each_holds_the_minimum():
    x, y = np.array([50.0, 60.0, 350.0, 390.0]), np.array([-50.0, -350.0, -50.0, -350.0])
    assert block_size(x[:2], y[:2], (0, 0), 100.0, 2) == 4
    assert block_size(x, y, (0, 0), 100.0, 2) == 4
    assert block_size(np.repeat(x, 2), np.repeat(y, 2), (0, 0), 100.0, 2) == 1
    with pytest.raises(ValueError, match="fewer than the minimum"):
        block_size(x[:1], y[:1], (0, 0), 100.0, 2)


def test_who_publishes_is_told_how_far_the_map_narrows_a_search():
    codes = np.ones((30, 40), np.uint8)
    codes[:, :4] = 3  # a tenth of the water
    layer = xr.DataArray(codes, dims=("y", "x"), coords=tiny_grid().coordinates)
    points = gpd.points_from_xy([500_010.0, 500_150.0, 501_900.0, 501_000.0], [7_771_000.0] * 4)
    seen = gpd.GeoDataFrame({"seen": [True, True, True, False]}, geometry=points, crs=sites.CRS)
    assert "67% of the sightings lie in good habitat, which is 10% of the water" in learned_from_classes(layer, seen)
    assert learned_from_classes(layer, None) == ""
    assert learned_from_classes(layer, seen.iloc[3:]) == ""


def tiny_grid():
    return Grid.from_bounds(sites.CRS, sites.WEST, sites.SOUTH, sites.EAST, sites.NORTH, sites.CELL)


def test_a_block_has_the_mean_of_its_known_cells():
    layer = xr.DataArray(np.array([[1, 3, 5], [np.nan, 2, 7]], np.float32), dims=("y", "x"))
    np.testing.assert_array_equal(block_means(layer, 2), np.array([[2, 2, 6], [np.nan, 2, 6]], np.float32))


def test_every_fault_of_the_rules_is_told_at_once(tmp_path):
    number = 'units = "1", source = "x" }'
    lines = [
        "format = 1",
        "[sightings]",
        'category = "9"',
        f"minimum_count = {{ value = 1, {number}",
        f"minimum_herd = {{ value = 20, {number}",
        'least_water = { value = 0, units = "ha", source = "x" }',
        "[categories]",
        '2 = { degrees = 0.2, date = "year", source = "x" }',
    ]
    text = "\n".join(lines)
    (tmp_path / "publishing.toml").write_text(text)
    with pytest.raises(RecordError) as refused:
        read_rules(tmp_path)
    assert {fault.place for fault in refused.value.faults} == {
        "sightings.category",
        "sightings.minimum_count.value",
        "categories.2.degrees",
    }


def test_the_command_writes_the_folder_and_says_what_became_of_the_sightings(folder, tmp_path, capsys, tables_only):
    parser = argparse.ArgumentParser()
    add_commands(parser.add_subparsers())
    chosen = parser.parse_args(["publish", str(folder), "--date", DATE, "--out", str(tmp_path / "public")])
    chosen.run(chosen)
    assert "All sightings are withheld" in capsys.readouterr().out
    assert (tmp_path / "public" / "hectares_by_class.csv").is_file()
