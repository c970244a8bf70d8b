"""NetCDF against an outside checker of the CF conventions, compliance-checker, and read back by the C library."""

import netCDF4
import numpy as np
import pytest
import xarray as xr

from layers.fault import RecordError
from layers.netcdf import write_netcdf
from layers.quantity import WATER_TEMPERATURE
from tests.conventions import complaints
from tests.grids import SEASONS, toy_assessment, toy_grid, toy_layers

FACTS = {
    "title": "Toy coast",
    "institution": "nobody",
    "source": "Survey of nowhere, 2021",
    "history": "Written by a test.",
    "references": "none",
    "comment": "Invented.",
}


@pytest.fixture(scope="module")
def everything():
    layers = toy_layers(toy_grid())
    return layers.assign(dict(toy_assessment(layers).data_vars))


@pytest.fixture(scope="module")
def path(everything, tmp_path_factory):
    path = tmp_path_factory.mktemp("netcdf") / "results.nc"
    write_netcdf(everything, path, attributes=FACTS)
    return path


def test_compliance_checker_finds_nothing_to_mend_under_cf_1_11(path, tmp_path):
    assert complaints(path, "cf:1.11", tmp_path) == []


def test_compliance_checker_finds_only_the_newer_version_under_cf_1_8(path, tmp_path):
    assert complaints(path, "cf:1.8", tmp_path) == ['§2.6.1 Conventions global attribute does not contain "CF-1.8"']


def test_the_checker_does_find_what_is_wrong(everything, tmp_path):
    bent = everything.copy()
    bent["water_depth"].attrs = {**bent["water_depth"].attrs, "units": "fathoms of rum"}
    write_netcdf(bent, tmp_path / "bent.nc", attributes=FACTS)
    assert any("fathoms of rum" in text for text in complaints(tmp_path / "bent.nc", "cf:1.11", tmp_path))


def test_every_value_comes_back(everything, path):
    with xr.open_dataset(path) as back:
        for name, layer in everything.data_vars.items():
            assert np.array_equal(back[name].values, layer.values, equal_nan=layer.dtype.kind == "f"), name
            assert back[name].dims == layer.dims


def test_seasons_are_labels_beside_their_dimension(path):
    with xr.open_dataset(path) as back:
        assert tuple(back["season_name"].values.astype(str)) == SEASONS
        assert back["salinity"].swap_dims(season="season_name").sel(season_name="dry").ndim == 2


def test_flags_have_the_type_of_their_variable_and_a_meaning_each(path):
    with netCDF4.Dataset(path) as file:
        concern = file["concern"]
        assert concern.flag_values.dtype == concern.dtype == np.int8
        assert len(concern.flag_meanings.split()) == len(concern.flag_values) == 10
        assert concern.flag_meanings.split()[9] == "good_habitat_under_high_threat"


def test_a_temperature_says_that_it_is_on_its_scale(everything, tmp_path):
    warm = everything[["surface"]].assign(
        water_temperature=toy_grid().label(np.full((60, 90), 25, np.float32), WATER_TEMPERATURE)
    )
    write_netcdf(warm, tmp_path / "warm.nc", attributes=FACTS)
    assert complaints(tmp_path / "warm.nc", "cf:1.11", tmp_path) == []


def test_layers_are_packed_without_loss_in_chunks(path):
    with netCDF4.Dataset(path) as file:
        packing = file["salinity"].filters()
        assert (packing["zlib"], packing["shuffle"], packing["complevel"]) == (True, True, 1)
        assert file["salinity"].chunking() == [1, 60, 90]


def test_the_grid_is_named_by_every_layer_and_gives_the_projection(path):
    with netCDF4.Dataset(path) as file:
        assert {file[name].grid_mapping for name in ("surface", "salinity", "concern")} == {"spatial_ref"}
        assert file["spatial_ref"].grid_mapping_name == "transverse_mercator"


def test_the_same_layers_give_the_same_bytes(everything, path, tmp_path):
    write_netcdf(everything, tmp_path / "again.nc", attributes=FACTS)
    assert (tmp_path / "again.nc").read_bytes() == path.read_bytes()


def test_layers_without_seasons_need_no_season(tmp_path):
    whole = toy_layers(toy_grid(5, 6))[["surface", "water_depth"]]
    write_netcdf(whole, tmp_path / "plain.nc", attributes=FACTS)
    with xr.open_dataset(tmp_path / "plain.nc") as back:
        assert "season_name" not in back.variables


def test_an_existing_file_is_not_overwritten(everything, path):
    before = path.read_bytes()
    with pytest.raises(RecordError, match=r"results\.nc: exists already\."):
        write_netcdf(everything, path, attributes=FACTS)
    assert path.read_bytes() == before
