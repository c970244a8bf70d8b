"""The least change that meets limits, held against appraisals made one by one."""

from __future__ import annotations

import pytest
from pytest import approx
from shapely.geometry import box

from habitat.appraisal import appraise
from habitat.appraisal_tables import unit_changes
from habitat.conditions import read_conditions
from habitat.least_change import FINEST_SHARE, Limits, least_change
from habitat.least_change_accounts import given_and_changed
from habitat.least_change_words import least_change_text
from habitat.proposal import proposal_of_features
from habitat.site_map import map_site
from habitat.variant import Variation, varied
from layers.step import Step
from tests.proposals import CHANNEL, DREDGED, frame
from tests.sites import CELL, TABLES, site_text, write_small_site

CONDITIONS = read_conditions()
CLAIM = {"kind": "land claim"}


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """The small site less what is measured at stations: each appraisal would carry that through the water again."""
    path = write_small_site(tmp_path_factory.mktemp("sought") / "site")
    path.write_text(site_text({name: keys for name, keys in TABLES.items() if "stations.csv" not in keys}), "utf-8")
    return map_site(path)


@pytest.fixture(scope="module")
def claim(site):
    """Land claimed on seagrass, beside a second plot of it."""
    return proposal_of_features(
        "claim", frame((CLAIM, CHANNEL), (CLAIM, box(501_300, 7_770_500, 501_400, 7_770_600))), site.inputs
    )


@pytest.fixture(scope="module")
def basin(site):
    return proposal_of_features("basin", frame((DREDGED | {"season": "wet"}, CHANNEL)), site.inputs)


def loss(site, proposal, of="spared"):
    """The largest of the seasons, by an appraisal made for this."""
    table = unit_changes(site.assessment, appraise(site, [proposal]).together.assessment)
    return -table[f"{of}_change"].min()


def test_the_smallest_cut_of_the_size_meets_the_limit_and_a_little_less_does_not(site, claim):
    whole = loss(site, claim)
    limit = 0.95 * whole
    found = least_change(site, claim, Limits(at_most_loss=limit), CONDITIONS, quantity="size")
    assert found.found
    share = found.variation.share
    assert loss(site, varied(claim, Variation(share=share), site.inputs)) <= limit
    assert loss(site, varied(claim, Variation(share=share + FINEST_SHARE), site.inputs)) > limit
    assert found.tried.iloc[0]["loss"] == approx(whole)
    assert found.appraisals == len(found.tried)


def test_a_shortest_move_is_no_farther_than_any_that_was_tried_and_met(site, basin):
    name = "dredging_from_seagrass"
    found = least_change(
        site, basin, Limits(conditions=(name,)), CONDITIONS, quantity="distance", bearing=90.0, farthest=600.0
    )
    # by hand: seagrass ends at x 501,400 and the next meadow, if any, is farther; the channel begins at 501,100
    rows = found.tried
    assert found.found
    moved = found.variation.east
    assert moved == approx(rows.loc[rows["meets"], "change"].min())
    assert 400 - CELL <= moved <= 400 + CELL
    assert set(rows["direction"]) <= {"", "90 degrees"}


def test_a_move_that_leads_out_of_the_site_cannot_be_and_the_search_is_the_same_again(site, claim):
    def sought():
        return least_change(site, claim, Limits(at_most_loss=0.0), CONDITIONS, quantity="distance", bearing=0.0)

    found, again = sought(), sought()
    # what is claimed ends 700 m south of the edge: moves of 300 and 600 m can be, those from 900 m on cannot
    away = found.tried[found.tried["change"] > 700]
    assert len(away) == 8 and away["loss"].isna().all() and not away["meets"].any()
    assert away["in_the_way"].iloc[0] == "part of it would lie outside the site, where nothing is known."
    assert away["in_the_way"].str.contains("outside the site").all()
    assert found.appraisals == 3 and not found.found
    assert "No distance up to 3,000 m towards 0 degrees meets the limits" in found.sentence
    assert again.sentence == found.sentence and again.tried.equals(found.tried)


def test_what_was_handed_in_and_the_best_changes_are_told_beside_the_answer(site, basin):
    found = least_change(site, basin, Limits(at_most_loss=0.0), CONDITIONS, quantity="size", most=5, recovery=7.0)
    given, changed = given_and_changed(found, CONDITIONS, recovery=7.0)
    assert [one.recovery for one in (given, *changed)] == [7.0] * 4
    expected = unit_changes(site.assessment, appraise(site, [basin]).together.assessment)
    assert given.units["spared_change"].tolist() == approx(expected["spared_change"].tolist())
    assert changed[0] is found.account
    # by the table: the three that break the fewest conditions and of these take least, and what was given is none
    rows = found.tried[found.tried["change"] > 0].assign(
        broken=lambda frame: frame["in_the_way"].str.count(","),
        share=lambda frame: (100 - 100 * frame["change"]).round(),
    )
    best = rows.sort_values(["broken", "loss"], kind="stable").head(3)
    names = [f"basin, {share:g}% of the size" for share in best["share"]]
    assert [one.appraisal.proposals[0].name for one in changed] == names
    assert found.tried["in_the_way"].str.startswith("the loss").all()
    met = least_change(site, basin, Limits(at_most_loss=1e6), CONDITIONS, quantity="size")
    given, changed = given_and_changed(met, CONDITIONS)
    assert given is met.account and changed == []


def test_eight_directions_are_tried_at_each_distance(site, claim):
    found = least_change(site, claim, Limits(at_most_loss=0.0), CONDITIONS, quantity="distance", farthest=500.0, most=9)
    assert sorted(found.tried["direction"].unique()) == [
        "", "east", "north", "north-east", "north-west", "south", "south-east", "south-west", "west"
    ]  # fmt: skip


def test_where_nothing_meets_the_limits_the_sentence_says_what_stands_in_the_way(site, basin):
    found = least_change(site, basin, Limits(at_most_loss=0.0), CONDITIONS, quantity="season")
    assert not found.found and found.monotone is None
    assert found.tried["variant"].tolist()[0] == "as it was given"
    assert found.sentence.startswith(
        "No other season meets the limits (a loss of at most 0 habitat units that threat leaves in any season). What "
        "stands in the way at the best one tried, "
    )
    least = min(loss(site, basin), loss(site, varied(basin, Variation(season="dry"), site.inputs)))
    assert f"it takes {least:,.1f} habitat units that threat leaves" in found.sentence


def test_what_meets_the_limits_already_is_left_as_it_is(site, basin):
    found = least_change(site, basin, Limits(at_most_loss=1e6), CONDITIONS, quantity="volume")
    assert found.found and found.variation == Variation() and found.appraisals == 1
    assert found.sentence.startswith("basin meets the limits as it was given")


def test_a_search_stops_at_its_appraisals_and_when_it_is_told_to(site, claim):
    steps: list[Step] = []
    found = least_change(
        site, claim, Limits(at_most_loss=0.0), CONDITIONS, quantity="size", most=3, on_step=steps.append
    )
    assert not found.found and found.appraisals == 3 == len(steps)
    assert "None of the 3 variants appraised meets the limits" in found.sentence
    assert "Variants tried (3 appraisals)" in least_change_text(found)

    def stop(step):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        least_change(site, claim, Limits(at_most_loss=0.0), CONDITIONS, quantity="size", on_step=stop)


def test_a_loss_that_rises_with_the_change_is_told(site):
    # moved eastwards off bare ground onto seagrass, which ends at x 501,400
    west = proposal_of_features("west", frame((CLAIM, box(500_850, 7_770_600, 500_950, 7_770_700))), site.inputs)
    limits = Limits(at_most_loss=0.0, of="units")
    found = least_change(site, west, limits, CONDITIONS, quantity="distance", bearing=90.0, farthest=1000.0, most=3)
    losses = found.tried.sort_values("change")["loss"].dropna().to_numpy()
    assert (losses[1:] > losses[:-1] + 1e-9).any()
    assert found.monotone is False
    assert "does not fall evenly" in least_change_text(found)


@pytest.mark.parametrize(
    "limits, said",
    [
        (lambda: Limits(), "no limit is given"),
        (lambda: Limits(at_most_loss=-1.0), "largest loss: found -1"),
        (lambda: Limits(at_most_loss=1.0, of="hope"), 'loss of "hope"'),
    ],
)
def test_limits_that_cannot_be_are_refused(limits, said):
    with pytest.raises(ValueError, match=said):
        limits()


def test_what_cannot_be_sought_is_refused(site, claim):
    limits = Limits(at_most_loss=1.0)
    with pytest.raises(ValueError, match='"colour" is not sought'):
        least_change(site, claim, limits, CONDITIONS, quantity="colour")
    with pytest.raises(ValueError, match="nothing of claim has a volume"):
        least_change(site, claim, limits, CONDITIONS, quantity="volume")
    with pytest.raises(ValueError, match='Did you mean "dredging_from_seagrass"'):
        least_change(site, claim, Limits(conditions=("dredging_from_seagras",)), CONDITIONS, quantity="size")
