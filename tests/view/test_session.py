"""What a visitor looks at: one value with its history."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.assessment import assess
from habitat.view.session import History, Session, View
from tests.view.places import small_site_map

FIRST = View(profile="profile", season="wet", shown="salinity", place=(1.0, 2.0))


def test_a_view_cannot_be_changed_in_place():
    with pytest.raises(dataclasses.FrozenInstanceError):
        FIRST.season = "dry"


def test_a_step_back_gives_the_view_before_and_a_step_forward_the_one_after():
    history = History(present=FIRST).changed(season="dry").changed(shown="threat")
    assert history.back().present == dataclasses.replace(FIRST, season="dry")
    assert history.back().back().present == FIRST
    assert history.back().back().forward().present == dataclasses.replace(FIRST, season="dry")


def test_there_is_nothing_before_the_first_view_and_nothing_after_the_last():
    history = History(present=FIRST)
    assert history.back() is history
    assert history.forward() is history


def test_a_change_to_the_same_is_no_step():
    history = History(present=FIRST)
    assert history.changed(season="wet") is history


def test_a_change_after_a_step_back_forgets_what_was_stepped_back_from():
    history = History(present=FIRST).changed(season="dry").back().changed(shown="threat")
    assert history.future == ()
    assert history.back().present == FIRST


@given(st.lists(st.sampled_from(["wet", "dry", "monsoon"]), max_size=8))
def test_stepping_all_the_way_back_and_forward_ends_where_it_began(seasons):
    history = History(present=FIRST)
    for season in seasons:
        history = history.changed(season=season)
    back = history
    for _ in seasons:
        back = back.back()
    assert back.present == FIRST
    for _ in seasons:
        back = back.forward()
    assert back == history


def test_the_picture_follows_the_season_without_scoring_again():
    site_map, scored = small_site_map(), []
    session = Session(site_map, View(profile=site_map.profile, season="wet", place=(0, 0)), _recording(scored))
    before = session.picture
    session.choose(season="dry")
    assert session.picture.season == "dry"
    assert session.picture.assessment is before.assessment is site_map.assessment
    assert scored == []


def test_a_changed_weight_scores_the_site_again_once_and_a_step_back_gives_the_old_scores():
    site_map, scored = small_site_map(), []
    session = Session(site_map, View(profile=site_map.profile, season="wet", place=(0, 0)), _recording(scored))
    changed = site_map.profile.with_weight("salinity", 9.0)
    session.choose(profile=changed)
    assert scored == [changed]
    assert not session.picture.assessment["suitability"].equals(site_map.assessment["suitability"])
    assert session.picture.assessment["suitability"].equals(assess(site_map.layers, changed)["suitability"])
    session.history = session.history.back()
    assert session.picture.assessment is site_map.assessment


def test_a_click_does_not_draw_the_maps_anew():
    site_map = small_site_map()
    session = Session(site_map, View(profile=site_map.profile, season="wet", place=(0, 0)), assess)
    drawn = []
    session.param.watch(drawn.append, "picture")
    session.choose(place=(500_150.0, 7_000_150.0))
    assert session.place == (500_150.0, 7_000_150.0)
    assert drawn == []


def _recording(scored):
    def score(layers, profile):
        scored.append(profile)
        return assess(layers, profile)

    return score
