"""The chain of a site: what it holds, what it says, and what it says where there is nothing."""

from dataclasses import replace

import numpy as np
import pytest

from habitat.view import chain_words
from habitat.view.chain import chain_of
from layers.derivation import Derivation
from layers.recipes.loads import catchment_result, median_load, outlet_loads
from tests.view.shoreland import EXPORT, HECTARES, OUTLETS

SEASONS = ("wet", "dry")


def test_it_is_made_once_and_kept_with_the_layers(chain):
    assert chain_of(chain.site_map) is chain


def test_no_place_of_an_animal_is_in_it(chain):
    sensitive = {entry.feeds for entry in chain.site_map.inputs.site.files if entry.sensitive}
    assert sensitive == {"sighting"}
    assert not any(entry.sensitive for layer in chain.measured for entry in chain.site_map.inputs.having(layer))


@pytest.mark.parametrize("season", SEASONS)
def test_the_outlets_and_their_loads_are_those_mixed_into_the_water(chain, season):
    mixed, shown = outlet_loads(chain.site_map.derivation, "nitrogen")[season], chain.loads_in(season)
    assert shown[["x", "y"]].to_numpy() == pytest.approx(mixed.places)
    assert shown["tonnes"].to_numpy() * 1000 == pytest.approx(mixed.kilograms_a_year)


@pytest.mark.parametrize("season", SEASONS)
def test_outlets_of_land_carry_the_name_and_load_of_the_catchment(chain, season):
    outlets = catchment_result(chain.site_map.derivation).load.outlets
    shown = chain.loads_in(season)
    of_land = shown[shown["of_land"]].set_index("name")
    assert dict(of_land["tonnes"] * 1000) == pytest.approx(
        dict(zip(outlets["outlet"], median_load(outlets, "nitrogen", season), strict=True))
    )
    assert {name: tuple(place) for name, place in of_land[["x", "y"]].iterrows()} == OUTLETS
    assert shown[~shown["of_land"]]["name"].tolist() == ["outlets.geojson, point 1"]


def test_the_seasons_of_the_land_add_up_to_area_times_the_published_coefficient(chain):
    # export coefficients of row crops and forest, Reckhow et al. 1980 as the shipped table gives them
    year = {name: area * EXPORT[cover] for name, (cover, area) in zip(OUTLETS, HECTARES.items(), strict=True)}
    # of the Julian year, in which February has 28 days and a quarter
    days = {"wet": 30 + 31 + 31 + 28.25 + 31 + 30, "dry": 31 + 30 + 31 + 31 + 30 + 31}
    found = dict.fromkeys(OUTLETS, 0.0)
    for season in SEASONS:
        loads = chain.loads_in(season).set_index("name")["tonnes"]
        for name in OUTLETS:
            found[name] += 1000 * loads[name] * days[season] / 365.25
    assert found == pytest.approx(year, rel=1e-6)


def test_the_cover_is_counted_in_hectares_and_said_in_shares(chain):
    assert chain.land.hectares == pytest.approx(HECTARES)
    expected = "225 ha of mapped land drain to 2 outlets on the shore: fields 50%, woods 50%."
    assert chain_words.cover_sentence(chain) == expected


def test_the_load_is_said_with_its_season_and_its_largest_outlet(chain):
    said = chain_words.load_sentence(chain, "wet")
    loads = chain.loads_in("wet")["tonnes"]
    assert f"nitrogen at a rate of {loads.sum():.0f} t a year while the wet season lasts" in said
    assert f"point 1, brings {100 * loads.max() / loads.sum():.0f}% of it" in said
    assert said != chain_words.load_sentence(chain, "dry")


@pytest.mark.parametrize("season", SEASONS)
def test_the_light_is_said_in_hectares_of_cells_that_get_what_is_needed(chain, season):
    light = chain.site_map.layers["bed_light"].sel(season=season).to_numpy()
    enough = int(np.count_nonzero(light >= 0.24)) * 0.25  # of 50 m cells, and the profile's need
    said = chain_words.light_sentence(chain, season)
    assert f"on {enough:.0f} ha, {100 * enough / (0.25 * np.count_nonzero(~np.isnan(light))):.0f}% of the water" in said


def test_the_forage_is_said_as_cover_summed_over_the_cells(chain):
    cover, kept = (chain.layer(name, "wet").to_numpy() for name in ("seagrass_cover", "forage"))
    # 20 ha of seagrass with a cover of 60 percent
    assert np.nansum(cover) * 0.25 == pytest.approx(12.0)
    said = chain_words.forage_sentence(chain, "wet")
    assert said.startswith("The seagrass mapped amounts to 12 ha of full cover")
    assert f"can keep {np.nansum(kept) * 0.25:.1f} ha of it" in said


def test_the_plume_is_said_beside_what_the_sea_holds(chain):
    values = chain.layer("nitrogen_concentration", "wet").to_numpy()
    raised = np.count_nonzero(values > 0.2) * 0.25
    said = chain_words.plume_sentence(chain, "wet")
    assert said.startswith("The sea holds 0.10 mg/L.")
    assert f"over {raised:.1f} ha" in said
    assert said.endswith(f"the most is {np.nanmax(values):.2f} mg/L.")


def test_a_dredge_is_said_to_work_only_in_its_season(chain):
    assert chain_words.dredge_sentence(chain, "wet") == "No dredge works in the wet season."
    highest = float(np.nanmax(chain.layer("dredge_plume", "dry")))
    said = chain_words.dredge_sentence(chain, "dry")
    assert said.startswith("While the channel is dug")
    assert f"the most is {highest:.2f} mg/L" in said


@pytest.mark.parametrize("layer", ["catchment", "loads", "nitrogen_concentration", "bed_light", "forage"])
def test_what_is_absent_is_said_in_a_sentence(chain, layer):
    bare = replace(chain, layers={}, loads={}, land=None, faults={})
    said = chain_words.absence_sentence(bare, layer)
    assert said.endswith(".")
    assert len(said) > 60


def test_a_fault_of_the_files_is_said_word_for_word(chain):
    faulty = replace(chain, faults={"forage": "site.toml: 1 problem"})
    assert chain_words.absence_sentence(faulty, "forage") == "site.toml: 1 problem"


def test_a_fault_in_one_layer_leaves_the_others(chain, monkeypatch):
    from layers.fault import Fault, LayerError

    made = chain.site_map.derivation
    fresh = Derivation(made.inputs, made.settings, made.recipes)
    given = fresh.layer

    def layer(name):
        if name == "dredge_plume":
            raise LayerError("site.toml", [Fault("mixing", "it is wrong.", "Mend it.")])
        return given(name)

    monkeypatch.setattr(fresh, "layer", layer)
    found = chain_of(replace(chain.site_map, derivation=fresh))
    assert "dredge_plume" not in found.layers
    assert "it is wrong." in found.faults["dredge_plume"]
    assert "forage" in found.layers


def test_the_method_of_a_season_is_cut_out_of_the_method_of_all(chain):
    layer = chain.layers["dredge_plume"]
    assert chain_words.method_in(layer, SEASONS, "wet") == "no dredge works in this season"
    dry = chain_words.method_in(layer, SEASONS, "dry")
    assert dry.startswith("fines of dredges")
    assert layer.attrs["method"] == f"wet: no dredge works in this season; dry: {dry}"
    one = chain.layers["water_depth"]
    assert chain_words.method_in(one, (), "wet") == one.attrs["method"]
