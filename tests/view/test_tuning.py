"""What the tuning page stands on, without a browser: edits, spreads, flips, the rough view, its value and history."""

import dataclasses
import itertools

import numpy as np
import pytest
import xarray as xr
from colorspacious import cspace_convert
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.assessment import assess
from habitat.curve import CategoryCurve, SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import read_profile
from habitat.profile_edit import (
    handles,
    part_of,
    with_breaks,
    with_demand,
    with_handle,
    with_point_after,
    with_rule,
    without_point,
)
from habitat.view import flips, tuning_session
from habitat.view.curve_sketch import curve_line, curve_sketch
from habitat.view.preview import thinned
from habitat.view.session import View
from habitat.view.spread import Spread, curve_sentence, spread_of
from habitat.view.tuning_file import ASKS_FOR_A_NAME, before_saving, profile_of_upload, saved_file
from habitat.view.tuning_second import comparison_table, why_beside
from habitat.view.tuning_session import Tuning
from habitat.view.window import window
from layers.fault import ProfileError
from layers.grid import Grid
from tests.scoring import factor, layers_of, pressure, random_layers, small_grid, small_profile
from tests.view.places import small_site_map


@pytest.fixture
def session():
    site_map = small_site_map()
    return Tuning(site_map, View(profile=site_map.profile, season="wet", shown="suitability", part="salinity"))


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["water_depth", "seagrass_cover", "salinity", "dredging", "nets", "vessels"]),
    st.integers(0, 3),
    st.floats(-1e6, 1e6),
    st.floats(-5, 5),
)
def test_wherever_a_point_is_dragged_it_stays_between_its_neighbours_and_the_profile_can_be_read(name, k, value, index):
    profile = small_profile()
    before = handles(part_of(profile, name))
    k = min(k, len(before) - 1)
    after = handles(part_of(with_handle(profile, name, k, value, index, reach=2000.0), name))
    assert [one for n, one in enumerate(after) if n != k] == [one for n, one in enumerate(before) if n != k]
    assert all(low.value < high.value for low, high in itertools.pairwise(after))
    assert all(0 <= one.index <= 1 for one in after)
    if name in ("dredging", "nets"):  # a distance is told as far as its reach
        assert after[-1].value <= 2000.0


def test_a_fade_moves_along_and_categories_move_up():
    fades = with_handle(small_profile(), "nets", 0, 250.0, 0.3)
    assert part_of(fades, "nets").exposure == Fade(250, 1000, "gaussian")
    ground = dataclasses.replace(
        factor("salinity", 1, [(0, 0), (1, 1)]), name="ground", layer="surface",
        curve=CategoryCurve(("unknown", "land", "intertidal", "water"), (None, 0, 0.6, 1)),
    )  # fmt: skip
    profile = small_profile(factors=(*small_profile().factors, ground))
    assert [one.value for one in handles(ground)] == [1, 2, 3]
    assert part_of(with_handle(profile, "ground", 1, 99, 0.4), "ground").curve.indices == (None, 0, 0.4, 1)


def test_a_point_more_keeps_the_shape_and_two_points_always_stay():
    profile = small_profile()
    more = with_point_after(profile, "salinity", 0)
    assert part_of(more, "salinity").curve == SuitabilityCurve((0, 20, 40), (1, 0.6, 0.2))
    assert without_point(more, "salinity", 1) == profile
    assert without_point(profile, "salinity", 1) is profile


def test_rules_breaks_and_demands_are_held_within_what_can_be():
    profile = small_profile()
    assert with_rule(profile, "limiting factor", 99, -1).may_lack == 2
    assert with_breaks(profile, "threat", 0.9, 0.6).threat_breaks == (0.59, 0.6)
    assert with_breaks(profile, "suitability", 0.35, 0.1).suitability_breaks == (0.35, 0.36)
    changed = with_demand(profile, "salinity", veto=True, essential=True)
    assert changed.essential == ("salinity", "water_depth") and part_of(changed, "salinity").veto


def test_the_sentence_gives_the_quartiles_of_the_water_and_what_the_curve_makes_of_them():
    values = np.arange(1, 101, dtype=np.float32)  # quartiles of 1 to 100: a quarter of the cells lies below 26
    spread = Spread(ordered=values, water=100)
    part = factor("salinity", 1, [(0, 0), (100, 1)])
    assert curve_sentence(part, spread) == (
        "Salinity: half of the water lies between 26.0 and 76.0; the curve gives it an index of 0.26 to 0.76."
    )
    nets = pressure("nets", "net_distance", 1, Fade(25, 50))
    assert curve_sentence(nets, spread) == (
        "Nets: 25% of the water lies within 25.0 m and is fully exposed; 49% lies within the reach of 50.0 m, and 51% "
        "is not exposed at all."
    )
    nothing = Spread(ordered=np.empty(0, np.float32), water=5)
    assert "no cell of this site has a value" in curve_sentence(part, nothing)


def test_a_spread_counts_water_and_flats_only():
    grid = small_grid(1, 4)
    layers = layers_of(grid, surface=[[1, 2, 3, 3]], salinity=[[9, 30, np.nan, 10]])
    spread = spread_of(layers, "salinity", None)
    assert spread.ordered.tolist() == [10, 30] and spread.water == 3
    edges, shares = spread.bars(0, 40)
    assert shares.sum() == 1 and len(edges) == len(shares) + 1


@pytest.mark.parametrize("shape", ["linear", "exponential", "gaussian"])
def test_the_drawn_line_is_the_curve(shape):
    part = pressure("nets", "net_distance", 1, Fade(100, 900, shape))
    values, indices = curve_line(part, 0, 1000)
    inner = values < 899
    np.testing.assert_allclose(part.exposure(values[inner]), indices[inner])
    assert "<svg" in curve_sketch(part, Spread(ordered=np.array([5.0], np.float32), water=1))


def test_flips_are_counted_cell_by_cell_and_better_is_up_for_habitat_and_down_for_threat(session):
    session.tune(lambda profile: with_handle(profile, "salinity", 1, 20, 0.9).with_weight("vessels", 0.9))
    sight = session.sight
    for kind, sign in (("suitability", 1), ("threat", -1)):
        old, new = (one.layer(f"{kind}_class").to_numpy().astype(int) for one in (sight.published, sight.now))
        both = (old > 0) & (new > 0)
        codes = flips.flips(sight.published, sight.now, kind).to_numpy()
        assert np.array_equal(np.isnan(codes), ~both)
        assert np.array_equal(codes == flips.BETTER, both & (sign * (new - old) > 0))
        up, down = flips.moved(flips.class_table(sight.published, sight.now, kind))
        assert (up, down) == ((both & (new > old)).sum(), (both & (new < old)).sum())  # cells of one hectare
        assert up + down > 0, "nothing flips, so nothing is shown"


def test_flips_are_told_apart_in_grey():
    # lightness of CAM02-UCS (Luo, Cui and Li 2006) by colorspacious; that fifteen units are enough is from memory
    lightness = [
        cspace_convert(np.array(list(bytes.fromhex(colour[1:]))) / 255, "sRGB1", "CAM02-UCS")[0]
        for colour in flips.FLIP_COLOURS.values()
    ]
    assert lightness[0] - lightness[1] > 15 and lightness[1] - lightness[2] > 15


def test_the_rough_view_scores_every_cell_it_shows_as_the_whole_site_does():
    profile = small_profile()
    layers = random_layers(small_grid(40, 30), profile, seasonal=("salinity",))
    view = window(Grid.of(layers), most=9)
    coarse = thinned(layers, view)
    assert view.step > 1 and max(coarse["surface"].shape) <= 9
    whole, part = assess(layers, profile), assess(coarse, profile)
    half = view.step // 2
    rows = np.minimum(np.arange(0, 40, view.step) + half, 39)
    columns = np.minimum(np.arange(0, 30, view.step) + half, 29)
    for name in ("suitability", "threat", "concern"):
        np.testing.assert_array_equal(part[name], whole[name].to_numpy()[..., rows[:, None], columns])
    assert Grid.of(coarse).cell == view.step * 100


def test_a_hand_that_moves_changes_the_maps_alone_and_letting_go_changes_the_profile(session):
    picture = session.picture
    session.follow_hand(lambda profile: profile.with_weight("salinity", 30))
    assert session.sight.is_rough and session.sight.now.profile.factors[0].name == "salinity"
    assert session.picture is picture and session.view.profile == session.site_map.profile
    session.settle()
    assert not session.sight.is_rough
    session.tune(lambda profile: profile.with_weight("salinity", 30))
    assert not session.sight.is_rough
    expected = assess(session.site_map.layers, session.view.profile)
    xr.testing.assert_identical(session.picture.assessment, expected)


def test_on_a_large_site_the_cells_in_view_are_scored_first_and_every_hectare_follows(session, monkeypatch):
    from bokeh.document import Document
    from panel.io.state import set_curdoc

    monkeypatch.setattr(tuning_session, "MANY_CELLS", 100)
    monkeypatch.setattr(tuning_session, "ROUGH_CELLS", 5)
    seen = []
    session.param.watch(lambda event: seen.append(event.new), "sight")
    picture, document = session.picture, Document()
    with set_curdoc(document):
        session.tune(lambda profile: profile.with_weight("salinity", 30))
        session.tune(lambda profile: profile.with_weight("nets", 0.1))
        changed = session.site_map.profile.with_weight("salinity", 30).with_weight("nets", 0.1)
        # nothing but the view until the page has had its turn, and the second change builds on the first
        assert [one.is_rough for one in seen] == [True, True]
        assert seen[-1].now.profile == changed and max(seen[-1].now.layers["surface"].shape) <= 5
        assert session.picture is picture and session.coming.present.profile == changed
        for waiting in document.session_callbacks:
            waiting.callback()
    assert [one.is_rough for one in seen] == [True, True, False], "the change that was overtaken is not scored in full"
    whole = assess(session.site_map.layers, changed)
    xr.testing.assert_identical(session.sight.now.assessment, whole)
    # hectares of the page against a count of the cells, which are of one hectare
    before, after = (one["suitability_class"].sel(season="wet") for one in (session.site_map.assessment, whole))
    up = int(((before > 0) & (after > before)).sum())
    down = int(((after > 0) & (after < before)).sum())
    assert flips.moved(flips.class_table(session.sight.published, session.sight.now, "suitability")) == (up, down)


def test_undo_takes_back_changes_of_the_profile_and_leaves_what_is_looked_at(session):
    published = session.site_map.profile
    session.tune(lambda profile: profile.with_weight("salinity", 5))
    session.choose(part="nets")
    session.tune(lambda profile: profile.with_weight("nets", 0.1))
    session.choose(season="dry")
    session.turn(session.coming.undone())
    assert session.view.profile == published.with_weight("salinity", 5)
    assert (session.view.part, session.view.season) == ("nets", "dry")
    session.turn(session.coming.undone())
    assert session.view.profile == published
    assert session.coming.undone() is session.coming
    for _ in range(2):
        session.turn(session.coming.redone())
    assert session.view.profile == published.with_weight("salinity", 5).with_weight("nets", 0.1)


def test_what_is_saved_is_read_again_and_compared_with_its_reasons(tmp_path):
    published = read_profile("estuarine_grazer")
    tuned = published.with_weight("salinity", 2)
    reasons = {"factors.salinity.weight": "brackish water is avoided"}
    file = saved_file(tuned, published, reasons, "My grazer", "A. Diver", "2026-05-01")
    again = profile_of_upload({"../../mine.toml": file.getvalue()})
    assert again == dataclasses.replace(tuned, title="My grazer")
    table = comparison_table(published, again)
    assert "<td>1</td><td>2</td><td>brackish water is avoided (A. Diver, 2026-05-01)</td>" in table
    assert "the same in every number" in comparison_table(again, again)
    with pytest.raises(ProfileError):
        profile_of_upload({"bad.toml": b"title = 1"})


def test_before_saving_what_has_no_reason_is_listed_and_a_name_is_asked_for():
    published = read_profile("estuarine_grazer")
    tuned = published.with_weight("salinity", 2).with_weight("forage", 1)
    said = before_saving(tuned, published, {}, "")
    assert "<strong>2 changes have no reason yet:</strong> forage: weight; salinity: weight." in said
    assert ASKS_FOR_A_NAME in said
    reasons = {"factors.salinity.weight": "seen there", "factors.forage.weight": "  "}
    said = before_saving(tuned, published, reasons, "A. Diver")
    assert "<strong>1 change has no reason yet:</strong> forage: weight." in said and ASKS_FOR_A_NAME not in said
    file = saved_file(tuned, published, reasons, "", "A. Diver", "").getvalue().decode()
    assert "# No reason is given for 1 of them: factors.forage.weight." in file
    assert before_saving(tuned, published, reasons | {"factors.forage.weight": "eaten"}, "A. Diver") == ""
    assert before_saving(published, published, {}, "") == "", "an unchanged profile needs neither"


def test_a_profile_with_other_needs_is_laid_beside_and_the_page_says_why():
    here, other = read_profile("marine_seagrass_grazer"), read_profile("estuarine_grazer")
    labels = [{part.label for part in (*one.factors, *one.pressures)} for one in (other, here)]
    said = why_beside(other, here)
    assert labels[0] - labels[1] and all(label in said.partition("does without")[0] for label in labels[0] - labels[1])
    assert all(label in said.partition("does without")[2] for label in labels[1] - labels[0])
    assert why_beside(here.with_weight("salinity", 9), here) == ""


def test_a_loaded_file_that_is_tuned_on_keeps_its_remarks_and_who_gave_its_reasons():
    published = read_profile("estuarine_grazer")
    why = {"factors.salinity.weight": "one"}
    first = saved_file(published.with_weight("salinity", 2), published, why, "", "A", "d1").getvalue() + b"# kept\n"
    loaded = profile_of_upload({"first.toml": first})
    why |= {"factors.forage.weight": "two"}
    second = saved_file(loaded.with_weight("forage", 1), published, why, "", "B", "d2").getvalue().decode()
    assert "# was 1: one (A, d1)\n" in second and "# was 2: two (B, d2)\n" in second and "# kept\n" in second
