"""The page that appraises proposals: its value, its variants, its maps and its tables, without a browser."""

import io
import zipfile
from dataclasses import replace

import holoviews as hv
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from colorspacious import cspace_convert
from shapely.geometry import box

from habitat.appraisal_range import range_of_loss
from habitat.appraisal_tables import unit_changes
from habitat.proposal_kinds import KINDS
from habitat.site_map import map_site
from habitat.variant import Variation, drawn_in, variants_table, varied
from habitat.view import appraise_words as words
from habitat.view.appraise_files import tables_archive
from habitat.view.appraise_forms import loaded, with_approved, with_planted_file, with_variation
from habitat.view.appraise_link import query_of_appraisal, search_of, site_proposals, wish_of_query
from habitat.view.asking import SEED, conditions_offered, least_words, sure_words, with_least_change, with_range
from habitat.view.bench import Bench, name_of
from habitat.view.desk import BROKEN, STOPPED, Desk, Stopped, Work
from habitat.view.difference import difference, difference_map, difference_scale, footprint, side_of
from habitat.view.drawing import Drawn, drawing_file, drawing_planted, drawing_weighed, may_follow, with_shape
from habitat.view.fields import label_of
from habitat.view.host import prepare
from habitat.view.opening import coarse_site
from habitat.view.session import Picture, View
from habitat.view.swipe import divided, dragged, further
from habitat.view.variant_form import parts_of, variation_of
from layers.fault import ProposalError
from tests.proposals import BOW, CHANNEL, DREDGED, MEADOW, MOORINGS, OUTFALL, PIPE, PLANTED, write
from tests.sites import SIGHTINGS, write_small_site

prepare()


@pytest.fixture(scope="module")
def site_map(tmp_path_factory):
    return map_site(write_small_site(tmp_path_factory.mktemp("appraise") / "site"))


@pytest.fixture(scope="module")
def upload(tmp_path_factory):
    path = tmp_path_factory.mktemp("proposal") / "basin.geojson"
    return {path.name: write(path, (DREDGED, CHANNEL), (OUTFALL, PIPE)).read_bytes()}


@pytest.fixture(scope="module")
def bench(site_map, upload):
    """The proposal and one variant of it, 300 m to the east."""
    desk = Desk(site_map)
    begun = loaded(upload, desk, Bench())
    return with_variation(desk, Variation(east=300.0), begun)


def test_a_file_that_is_no_proposal_is_told_and_leaves_the_bench_as_it_was(site_map, upload):
    desk = Desk(site_map)
    desk.do("reading", lambda bench, on_step: loaded({"plan.geojson": b"{}"}, desk, bench, on_step))
    with pytest.raises(ProposalError) as refusal:
        loaded({"plan.geojson": b"{}"}, desk, Bench())
    assert desk.work == Work(trouble=str(refusal.value))
    assert desk.bench == Bench()
    assert "plan.geojson" in words.state(desk.work)


def test_work_that_is_stopped_or_breaks_leaves_the_bench_and_is_told(site_map, capsys):
    desk = Desk(site_map)

    def stopped(bench, on_step):
        raise Stopped

    desk.do("nothing", stopped)
    assert (desk.work, desk.failed) == (Work(note=STOPPED), 1)
    desk.do("nothing", lambda bench, on_step: 1 / 0)
    assert (desk.work, desk.failed) == (Work(trouble=BROKEN), 2)
    assert "ZeroDivisionError" in capsys.readouterr().err
    assert desk.bench == Bench()


def test_the_steps_of_the_work_are_told_and_a_step_can_end_it(site_map, upload):
    told = []
    loaded(upload, Desk(site_map), Bench(), told.append)
    assert [step.label.split()[0] for step in told] == ["reading", "making", "holding", "drawing"]

    def halt(step):
        raise Stopped

    with pytest.raises(Stopped):
        loaded(upload, Desk(site_map), Bench(), halt)


def test_a_file_name_from_a_browser_cannot_lead_out_of_its_folder(site_map, upload):
    (held,) = upload.values()
    begun = loaded({"../../basin.geojson": held}, Desk(site_map), Bench())
    assert begun.first.name == "basin.geojson"


def test_variants_stand_side_by_side_with_the_numbers_that_habitat_computes(bench, site_map):
    accounts = [one.account for one in bench.trials]
    table = variants_table(accounts, "wet")
    assert table["variant"].tolist() == ["basin.geojson", "basin.geojson, 300 m east"]
    for account, row in zip(accounts, table.itertuples(), strict=True):
        expected = unit_changes(site_map.assessment, account.appraisal.together.assessment).set_index("season")
        assert row.units_change == expected.loc["wet", "units_change"]
        assert row.spared_change == expected.loc["wet", "spared_change"]
        judged = [one.met for one in account.conditions if one.form != "told"]
        assert (row.not_met, row.unknown) == (judged.count(False), judged.count(None))
    assert table["spared_change"].nunique() == 2, "the move changes nothing, so the table shows nothing"
    said = words.side_by_side(bench, "wet")
    for row in table.itertuples():
        assert f">{row.variant}</td>" in said
        assert f"{row.spared_change:+,.2f}" in said


def test_the_same_variant_is_not_made_twice_and_another_can_be_brought_into_view(bench):
    again = bench.with_variant(bench.trials[0].account, Variation())
    assert len(again.trials) == 2 and again.shown == 0
    assert len(bench.without_shown().trials) == 1 and again.without_shown() is again
    assert name_of(bench.account) == "basin.geojson, 300 m east"
    assert bench.showing(5) is bench


def test_the_difference_is_after_less_before_and_falls_where_the_habitat_is_dug_away(bench, site_map):
    first = bench.showing(0)
    changed = difference(first.account, "suitability", "wet")
    after = first.account.appraisal.together.assessment["suitability"].sel(season="wet")
    before = site_map.assessment["suitability"].sel(season="wet")
    np.testing.assert_array_equal(changed.to_numpy(), after.to_numpy() - before.to_numpy())
    x, y = CHANNEL.centroid.coords[0]
    row, column = site_map.inputs.site.grid.cell_at(x, y)
    assert changed.to_numpy()[row, column] < 0
    threat = difference(first.account, "threat", "wet").to_numpy()
    assert np.nanmax(threat) > 0


def test_the_maps_are_pictures_with_the_colours_of_a_difference_and_an_outline(bench, site_map):
    picture = Picture(layers=site_map.layers, profile=site_map.profile, assessment=site_map.assessment, season="wet")
    drawn = difference_map(bench, picture, "suitability")
    assert isinstance(drawn, hv.Image)
    assert drawn.opts.get("style").kwargs["cmap"] == list(difference_scale("suitability").colours)
    outline = footprint(bench, site_map.inputs.site.grid)
    assert isinstance(outline, hv.Contours) and len(outline.split()) == 2
    _, east = outline.range("easting")
    assert east == pytest.approx(CHANNEL.bounds[2] + 300)


@pytest.mark.parametrize("sight", ["deuteranomaly", "protanomaly", "tritanomaly"])
def test_worse_and_better_are_told_apart_by_colour_blind_eyes(sight):
    # dichromats of Machado, Oliveira and Fernandes 2009 and CAM02-UCS of Luo, Cui and Li 2006, by colorspacious; that
    # ten units are told apart at a glance is common practice, no source
    scale = difference_scale("suitability")
    space = {"name": "sRGB1+CVD", "cvd_type": sight, "severity": 100}
    seen = {}
    for value in (-0.5, -0.25, 0.0, 0.25, 0.5):
        channels = np.array(list(bytes.fromhex(scale.colour(value)[1:]))) / 255
        seen[value] = cspace_convert(np.clip(cspace_convert(channels, space, "sRGB1"), 0, 1), "sRGB1", "CAM02-UCS")
    for low, high in ((-0.5, 0.5), (-0.25, 0.25), (-0.25, 0.0), (0.0, 0.25)):
        assert np.linalg.norm(seen[low] - seen[high]) > 10, (low, high)


def test_warm_is_worse_for_both_scores():
    suitability, threat = difference_scale("suitability"), difference_scale("threat")
    assert suitability.colour(-0.5) == threat.colour(0.5)
    red, _, blue = bytes.fromhex(suitability.colour(-0.5)[1:])
    assert red > blue


def test_a_smaller_variant_keeps_its_share_of_area_volume_and_load(bench, site_map):
    smaller = varied(bench.first, Variation(share=0.5), site_map.inputs)
    (dug,), (pipe,) = smaller.of_kind("dredged area"), smaller.of_kind("outfall")
    assert dug.shape.area == pytest.approx(CHANNEL.area / 2, rel=1e-6)
    assert CHANNEL.buffer(1e-6).contains(dug.shape)
    assert (dug.get("volume_m3"), pipe.get("n_kg_year")) == (45_000.0, 2_500.0)
    assert drawn_in(PIPE, 0.5) == PIPE


def test_season_and_equipment_change_where_a_kind_has_them(bench, site_map):
    changed = varied(bench.first, Variation(season="dry", equipment="mechanical dredge"), site_map.inputs)
    assert [one.get("season") for one in changed.features] == ["dry", "dry"]
    assert changed.of_kind("dredged area")[0].get("equipment") == "mechanical dredge"


def test_a_variant_that_changes_nothing_or_leaves_the_site_is_refused(bench, site_map):
    with pytest.raises(ValueError, match="is the proposal as it is"):
        varied(bench.first, Variation(), site_map.inputs)
    with pytest.raises(ProposalError):
        varied(bench.first, Variation(east=1e6), site_map.inputs)


def test_what_is_drawn_is_weighed_as_a_file_would_be(bench, site_map):
    desk = Desk(site_map)
    drawing = with_shape(with_shape((), DREDGED, CHANNEL), OUTFALL, PIPE)
    found = drawing_weighed(desk, drawing, Bench())
    pd.testing.assert_frame_equal(found.account.units, bench.trials[0].account.units)
    assert may_follow(found) and not may_follow(bench)
    with pytest.raises(ValueError, match="Nothing is drawn yet"):
        drawing_weighed(desk, (), Bench())
    assert with_shape(drawing, DREDGED, None) is drawing


def test_a_drawing_taken_home_is_read_again_as_it_was(site_map):
    desk = Desk(site_map)
    drawing = with_shape(with_shape((), DREDGED, CHANNEL), OUTFALL, PIPE)
    held = drawing_file(desk, drawing).getvalue()
    again = loaded({"home.geojson": held}, desk, Bench()).first
    assert [one.kind for one in again.features] == ["dredged area", "outfall"]
    assert again.features[0].shape.equals_exact(CHANNEL, 0.01) or again.features[0].shape.symmetric_difference(
        CHANNEL
    ).area == pytest.approx(0, abs=1)
    assert again.features[0].get("volume_m3") == DREDGED["volume_m3"]
    with pytest.raises(ValueError, match="Nothing is drawn yet"):
        drawing_file(desk, ())


def test_a_border_that_crosses_itself_is_told_and_not_mended(site_map):
    with pytest.raises(ProposalError, match="cross"):
        drawing_weighed(Desk(site_map), (Drawn(said=DREDGED, shape=BOW),), Bench())


def test_every_attribute_has_a_short_label_of_its_own():
    for kind in KINDS.values():
        labels = [label_of(one) for one in kind.attributes]
        assert len(set(labels)) == len(labels)
        assert all(len(label) <= 30 for label in labels)


def test_what_is_approved_stands_with_the_proposal_and_the_part_of_each_is_told(bench, site_map, tmp_path):
    moorings = write(tmp_path / "moorings.geojson", (MOORINGS, PIPE)).read_bytes()
    both = with_approved({"moorings.geojson": moorings}, Desk(site_map), bench)
    assert [one.name for one in both.trials] == [one.name for one in bench.trials]
    assert both.shown == bench.shown and [one.name for one in both.approved] == ["moorings.geojson"]
    said = words.together(both)
    assert "moorings.geojson" in said and "all of them together" in said
    assert words.together(bench) == ""
    with pytest.raises(ValueError, match="no proposal yet"):
        with_approved({"moorings.geojson": moorings}, Desk(site_map), Bench())


def test_a_link_names_only_a_proposal_of_the_sites_folder_and_brings_the_variant_back(bench, site_map):
    view = View(profile=site_map.profile, season="wet", shown="threat", place=(500_912.0, 7_770_434.0))
    named = replace(bench, lies_with_site=True)
    query = query_of_appraisal(view, named)
    assert wish_of_query({key: value for key, value in query.items() if value is not None}) == (
        "basin.geojson",
        Variation(east=300.0),
    )
    assert search_of({}, query) == "?season=wet&layer=threat&proposal=basin.geojson&variant_east=300.0"
    assert search_of({}, query_of_appraisal(view, bench)) == "?season=wet&layer=threat"
    assert wish_of_query({"variant_share": "nan", "variant_east": float("inf")}) == ("", Variation())


def test_only_vector_files_that_are_no_layers_are_offered_as_proposals_of_the_site(tmp_path):
    site = map_site(write_small_site(tmp_path / "site")).inputs.site
    folder = site.path.parent
    (folder / "proposals").mkdir()
    write(folder / "proposals" / "basin.gpkg", (DREDGED, CHANNEL))
    write(folder / "pipe.geojson", (OUTFALL, PIPE))
    assert list(site_proposals(site)) == ["basin.gpkg", "pipe.geojson"]


def test_empty_fields_of_a_variant_leave_things_as_they_are():
    assert variation_of(dict.fromkeys(("east", "share", "left_share"))) == Variation()
    values = {"east": 50.0, "season": "wet", "share": 40.0, "volume": 100.0, "measure": "silt curtain"}
    assert variation_of(values) == Variation(east=50.0, season="wet", share=0.4, measure="silt curtain")


def test_what_can_be_left_out_are_the_features_of_the_proposal_and_leaving_one_out_is_a_variant(bench, site_map):
    assert list(parts_of(bench).values()) == ["", "dredged area 1", "outfall 1"]
    less = with_variation(Desk(site_map), Variation(without="outfall 1"), bench)
    assert [one.kind for one in less.account.appraisal.proposals[0].features] == ["dredged area"]


def test_how_sure_gives_the_range_that_habitat_computes_and_keeps_it_with_the_variant(bench):
    known = with_range(0.5, bench)
    expected = range_of_loss(bench.account.appraisal, limit=0.5, seed=SEED).losses
    pd.testing.assert_frame_equal(known.trial.loss_range.losses, expected)
    said = sure_words(known)
    for row in expected[expected["measure"] == "spared"].itertuples():
        assert f"{row.low:,.1f} to {row.high:,.1f}" in said and f"{100 * row.chance:.0f} %" in said
    assert sure_words(known.showing(0)) == "" and sure_words(bench) == ""


def test_the_smallest_change_comes_into_view_and_meets_the_limit(bench, site_map):
    worst = -bench.trials[0].account.units["spared_change"].min()
    found = with_least_change(Desk(site_map), "size", 0.9 * worst, (), bench)
    assert found.sought.found and found.trial.variation == found.sought.variation
    assert 0 < found.trial.variation.share < 1
    assert -found.account.units["spared_change"].min() <= 0.9 * worst
    said = least_words(found)
    assert found.sought.sentence in said
    assert said.count("<tr>") == 1 + len(found.sought.tried), "a row for each that was tried, under the head"
    with pytest.raises(ValueError, match="No limit is given"):
        with_least_change(Desk(site_map), "size", None, (), bench)


def test_conditions_that_are_chosen_have_to_be_met_by_the_smallest_change(bench, site_map):
    (name,) = (name for name in conditions_offered().values() if name == "dredging_from_seagrass")
    found = with_least_change(Desk(site_map), "size", None, (name,), bench).sought
    assert found.limits.conditions == (name,) and found.limits.at_most_loss is None
    label = next(label for label, one in conditions_offered().items() if one == name)
    assert not found.found and label in found.tried["in_the_way"].iloc[0], "it is dug in seagrass, however small"


def test_what_is_planted_makes_a_variant_drawn_or_loaded_and_no_link_names_it(bench, site_map, tmp_path):
    desk = Desk(site_map)
    drawn = drawing_planted(desk, (Drawn(said=PLANTED, shape=MEADOW),), bench)
    file = write(tmp_path / "meadow.gpkg", (PLANTED, MEADOW)).read_bytes()
    loaded_one = with_planted_file({"meadow.gpkg": file}, desk, bench)
    for found in (drawn, loaded_one):
        assert found.trial.name == "basin.geojson, 300 m east, 80% seagrass planted"
        assert found.account.appraisal.proposals[0].steps == ("avoid", "offset")
        gain = found.account.units["units_change"] - bench.account.units["units_change"]
        assert (gain > 0).all()
    assert len(drawing_planted(desk, (Drawn(said=PLANTED, shape=MEADOW),), drawn).trials) == 3, "not made twice"
    beside = drawing_planted(desk, (Drawn(said=PLANTED, shape=box(501_500, 7_770_700, 501_600, 7_770_800)),), drawn)
    assert beside.trial.name.endswith("seagrass planted, shape 2")
    query = query_of_appraisal(View(profile=site_map.profile, season="wet"), replace(drawn, lies_with_site=True))
    assert query["proposal"] == "basin.geojson" and query["variant_east"] is None
    with pytest.raises(ValueError, match="is not planted"):
        drawing_planted(desk, (Drawn(said=OUTFALL, shape=PIPE),), bench)
    with pytest.raises(ValueError, match="Nothing is drawn yet"):
        drawing_planted(desk, (), bench)
    with pytest.raises(ValueError, match="no proposal to plant beside"):
        drawing_planted(desk, (Drawn(said=PLANTED, shape=MEADOW),), Bench())


def test_where_no_threat_is_known_nothing_is_said_of_what_it_leaves(site_map, upload):
    nameless = site_map.assessment.assign(
        threat=xr.full_like(site_map.assessment["threat"], np.nan),
    )
    unknown = loaded(dict(upload), Desk(replace(site_map, assessment=nameless)), Bench())
    assert unknown.account.units["spared_change"].isna().all()
    for said in (words.numbers(unknown), words.side_by_side(unknown, "wet"), words.causes(unknown)):
        assert "nan" not in said
    assert words.numbers(unknown).count("cannot be told") == 3 * 2, "before, after and change in two seasons"
    assert "no way" not in words.numbers(unknown)
    sure = sure_words(with_range(1.0, unknown))
    assert "nan" not in sure and "takes nothing" not in sure and "of the habitat units;" in sure


def test_the_divide_shows_one_side_left_and_the_other_right_of_it(bench, site_map):
    first = bench.showing(0)
    before, after = (side_of(first.account, when, "suitability", "wet") for when in ("before", "after"))
    edge = float(before["x"][20]) - 25
    mixed = divided(before, after, edge).to_numpy()
    np.testing.assert_array_equal(mixed[:, :20], before.to_numpy()[:, :20])
    np.testing.assert_array_equal(mixed[:, 20:], after.to_numpy()[:, 20:])
    assert not np.array_equal(before.to_numpy(), after.to_numpy())


def test_a_drag_counts_from_the_outline_to_the_nearest_ten_metres():
    ring = np.array(CHANNEL.exterior.coords)
    inside, outside = (501_200.0, 7_770_700.0), (501_900.0, 7_770_700.0)
    assert dragged(inside, (501_404.0, 7_770_648.0), [ring], 5.0) == (200.0, -50.0)
    assert dragged(outside, (502_100.0, 7_770_700.0), [ring], 5.0) is None
    assert dragged(inside, (501_203.0, 7_770_700.0), [ring], 5.0) is None
    assert further(Variation(east=100.0, share=0.5), 200.0, -50.0) == Variation(east=300.0, north=-50.0, share=0.5)


def test_conditions_have_a_sign_and_a_word_and_those_not_met_come_first(bench):
    said = words.conditions(bench)
    met = [one.met for one in bench.account.conditions]
    for verdict, (sign, word) in words.VERDICTS.items():
        assert said.count(f'<i aria-hidden="true">{sign}</i>{word}<') == met.count(verdict)
    assert False in met
    assert said.index("not met") < said.index("cannot be told")


def test_the_page_says_of_animals_only_the_coarse_sentence(bench):
    assert str(bench.account.presence) in words.animals(bench)
    every = "".join(
        str(part(bench)) for part in (words.answers, words.animals, words.numbers, words.causes, words.ways)
    )
    for x, y in SIGHTINGS:
        assert f"{x:.0f}" not in every and f"{y:.0f}" not in every


def test_the_archive_holds_the_tables_as_they_were_computed(bench):
    with zipfile.ZipFile(tables_archive(bench.account)) as archive:
        units = pd.read_csv(io.BytesIO(archive.read("habitat_units.csv")))
        assert archive.read("account.txt").decode().startswith("basin.geojson, 300 m east")
    assert units["units_change"].to_numpy() == pytest.approx(bench.account.units["units_change"].to_numpy())


def test_a_small_site_is_not_made_again_in_coarser_cells(site_map):
    assert coarse_site(site_map) is site_map


def test_an_area_drawn_in_to_little_stays_within_itself():
    whole = box(0, 0, 1000, 60)
    assert drawn_in(whole, 0.25).area == pytest.approx(15_000, rel=1e-6)
