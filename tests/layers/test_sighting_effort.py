"""Hours of looking, spread over the ground that was searched: worked by hand and with shapely."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely
from affine import Affine

from layers.fault import LayerError
from layers.feeds import FEEDS
from layers.grid import Grid
from layers.raster import read_raster
from layers.sighting_effort import read_tracks, search_effort, searched_share, site_effort
from layers.site import parse_site
from tests.sites import CRS, EAST, NORTH, SITE, SOUTH, WEST

GRID = Grid.from_bounds(CRS, WEST, SOUTH, WEST + 500, SOUTH + 400, 100)


def tracks(*lines, hours=2.0, half_width=50.0, month=2):
    count = len(lines)
    return gpd.GeoDataFrame(
        {"month": [month] * count, "hours": [hours] * count, "half_width": [half_width] * count},
        geometry=[shapely.LineString(line) for line in lines],
        crs=CRS,
    )


def test_a_track_along_a_row_gives_its_hours_to_the_cells_of_that_row():
    along = tracks([(WEST, SOUTH + 150), (WEST + 500, SOUTH + 150)])
    expected = np.zeros((4, 5))
    expected[2] = 0.4  # 2 hours over five cells; rows run from north to south
    np.testing.assert_allclose(search_effort(along, GRID).to_numpy(), expected, atol=1e-6)
    np.testing.assert_allclose(searched_share(along, GRID).to_numpy(), expected > 0)


def test_hours_of_slanting_and_overlapping_tracks_add_up_and_searched_ground_counts_once():
    slanting = tracks(
        [(WEST + 80, SOUTH + 90), (WEST + 400, SOUTH + 310)], [(WEST + 100, SOUTH + 300), (WEST + 420, SOUTH + 100)]
    )
    hours, share = (of(slanting, GRID).to_numpy() for of in (search_effort, searched_share))
    assert hours.sum() == pytest.approx(4.0, rel=1e-5)
    strips = [line.buffer(50, cap_style="flat") for line in slanting.geometry]
    assert share.sum() * 1e4 == pytest.approx(shapely.union_all(strips).area, rel=1e-4)
    assert ((hours > 0) == (share > 0)).all() and share.max() <= 1


def test_the_part_of_a_track_off_the_grid_leaves_its_hours_there():
    half_out = tracks([(WEST - 500, SOUTH + 150), (WEST + 500, SOUTH + 150)])
    assert search_effort(half_out, GRID).to_numpy().sum() == pytest.approx(1.0)
    assert search_effort(tracks([(WEST - 900, SOUTH), (WEST - 600, SOUTH)]), GRID).to_numpy().sum() == 0


def test_only_tracks_of_the_season_count():
    both = pd.concat([tracks([(WEST, SOUTH + 150), (WEST + 500, SOUTH + 150)], month=month) for month in (2, 8)])
    assert search_effort(both, GRID, months=[1, 2, 3]).to_numpy().sum() == pytest.approx(2)
    assert search_effort(both, GRID, months=[5]).to_numpy().max() == 0


@pytest.fixture
def site_of(tmp_path):
    def reading(**columns):
        count = len(columns["hours"])
        lines = [shapely.LineString([(WEST, SOUTH + 100 * k), (EAST, SOUTH + 100 * k)]) for k in range(1, count + 1)]
        gpd.GeoDataFrame(columns, geometry=lines, crs=CRS).to_file(tmp_path / "tracks.gpkg")
        keys = 'feeds = "survey_track"\nfile = "tracks.gpkg"\ndate = "2023"\nsource = "made up"\nlicence = "CC0"\n'
        (tmp_path / "site.toml").write_text(SITE + f'\n[files.tracks]\n{keys}credit = "nobody"\n', encoding="utf-8")
        site, faults = parse_site(tmp_path / "site.toml", []), []
        return site, read_tracks(site.files[0], site, faults), faults

    return reading


def test_tracks_are_read_with_their_dates(site_of):
    site, found, faults = site_of(date=["2023-02-01", "2023-08-01"], hours=[1.0, 3.0], half_width_m=[100.0, 100.0])
    assert not faults and found["month"].tolist() == [2, 8] and found["half_width"].tolist() == [100, 100]

    inputs = SimpleNamespace(site=site, having=site.feeding, features={"tracks": found})
    effort = site_effort(inputs, site.grid, ("wet", "dry", None))
    sums = {season: round(float(hours.sum()), 3) for season, hours in effort.items()}
    assert sums == {"wet": 1.0, "dry": 3.0, None: 4.0}
    assert site.grid.bounds == (WEST, SOUTH, EAST, NORTH)


def test_tracks_without_hours_width_or_date_are_refused_all_at_once(site_of):
    _, found, faults = site_of(date=["2023-02-01", "2023-15-01"], hours=[0.0, 3.0], half_width_m=[100.0, -5.0])
    assert found is None and len(faults) == 3
    _, found, faults = site_of(hours=[1.0])
    assert found is None and {fault.place for fault in faults} == {
        "files.tracks.columns.date",
        "files.tracks.columns.half_width_m",
    }


def test_a_raster_of_hours_is_summed_onto_the_grid_and_needs_its_season(tmp_path):
    hours = np.array([[8.0, 0.0], [np.nan, 4.0]], np.float32)  # cells of 200 m; the grid has cells of 50 m
    form = {"driver": "GTiff", "width": 2, "height": 2, "count": 1, "dtype": "float32", "crs": CRS, "nodata": np.nan}
    with rasterio.open(tmp_path / "h.tif", "w", **form, transform=Affine(200, 0, WEST, 0, -200, NORTH)) as target:
        target.write(hours, 1)
    keys = 'feeds = "survey_effort"\nfile = "h.tif"\nunits = "hour"\ndate = "2023"\nsource = "made up"\n'
    text = SITE + f'\n[files.hours]\n{keys}licence = "CC0"\ncredit = "nobody"\n'

    def effort(text, seasons):
        (tmp_path / "site.toml").write_text(text, encoding="utf-8")
        site, faults = parse_site(tmp_path / "site.toml", []), []
        (entry,) = site.files
        raster = read_raster(entry, site, FEEDS[entry.feeds].quantity, faults, default_rule=FEEDS[entry.feeds].rule)
        assert not faults
        inputs = SimpleNamespace(site=site, having=site.feeding, rasters={"hours": raster}, features={})
        return site_effort(inputs, site.grid, seasons)

    whole = effort(text, (None,))[None]
    assert float(whole.sum()) == pytest.approx(12) and float(whole[0, 0]) == pytest.approx(0.5)
    dry = effort(text + 'season = "dry"\n', ("wet", "dry"))
    assert float(dry["wet"].sum()) == 0 and float(dry["dry"].sum()) == pytest.approx(12)
    with pytest.raises(LayerError, match=r"files\.hours: it does not say in which season"):
        effort(text, ("wet", "dry"))


def test_a_column_called_by_no_term_of_the_feed_is_refused_with_the_terms(tmp_path):
    keys = 'feeds = "survey_track"\nfile = "t.gpkg"\ndate = "2023"\nsource = "made up"\nlicence = "CC0"\n'
    text = SITE + f'\n[files.tracks]\n{keys}credit = "nobody"\ncolumns = {{ width = "w" }}\n'
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    faults = []
    parse_site(tmp_path / "site.toml", faults)
    assert any(
        'names "width", which is no term of lines searched for animals' in fault.found
        and fault.remedy == "Known here: date, hours, half_width_m."
        for fault in faults
    )
