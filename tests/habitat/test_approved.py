"""What is approved already stands before, and the loss of all is told against the site as it is."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx
from shapely.geometry import box

from habitat.appraisal import appraise, outcome_of
from habitat.appraisal_tables import unit_changes
from habitat.approved import cumulative_changes, cumulative_text, with_approved
from habitat.proposal import proposal_of_features
from habitat.site_map import map_site
from tests.proposals import CHANNEL, OUTFALL, PIPE, frame
from tests.sites import write_small_site

CLAIM = {"kind": "land claim"}


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return map_site(write_small_site(tmp_path_factory.mktemp("approved") / "site"))


def test_what_is_approved_is_in_place_before_and_all_add_up(site):
    old = proposal_of_features("old", frame((CLAIM, CHANNEL)), site.inputs)
    before = with_approved(site, [old])
    new = proposal_of_features(
        "new", frame((CLAIM, box(501_300, 7_770_600, 501_400, 7_770_800)), (OUTFALL, PIPE)), before.inputs
    )
    after = appraise(before, [new]).together.site_map
    # the same site made with both at once
    both = outcome_of(site, [old, new], "both")
    for key in ("suitability", "threat"):
        assert np.array_equal(after.assessment[key], both.assessment[key], equal_nan=True)
    table = cumulative_changes(site, before, after)
    whole = unit_changes(site.assessment, both.assessment).set_index("season")
    for season, rows in table.groupby("season", sort=False):
        found = rows.set_index("what")
        for column in ("units_change", "spared_change"):
            assert found.loc["together", column] == approx(whole.loc[season, column])
            assert found.loc["approved", column] + found.loc["appraised", column] == approx(whole.loc[season, column])
        assert found.loc["approved", "units_change"] < 0
    assert "Approved already, and in place before: old." in cumulative_text(site, before, after, ["old"])


def test_without_anything_approved_the_site_is_as_it_is(site):
    assert with_approved(site, []) is site


def test_ground_claimed_twice_is_lost_once(site):
    first, again = (proposal_of_features(name, frame((CLAIM, CHANNEL)), site.inputs) for name in ("first", "again"))
    before = with_approved(site, [first])
    after = appraise(before, [again]).together.site_map
    table = cumulative_changes(site, before, after).set_index("what")
    assert (table.loc["appraised", "units_change"] == 0).all()
