"""Variants of a proposal, beside plain geometry and sums worked out apart, and their order of mitigation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx
from shapely.geometry import box

from habitat.appraisal import appraise
from habitat.appraisal_account import account_of
from habitat.appraisal_tables import class_changes, unit_changes
from habitat.conditions import read_conditions
from habitat.proposal import proposal_of_features
from habitat.proposal_feature import Feature
from habitat.site_map import map_site
from habitat.variant import (
    MITIGATION,
    Variation,
    mitigation_steps,
    season_of_months,
    shifted,
    variants_table,
    varied,
)
from layers.dredge_work import works_of
from layers.fault import ProposalError
from tests.proposals import CHANNEL, DREDGED, MOORINGS, OUTFALL, PIPE, frame
from tests.sites import write_small_site

ELSEWHERE = box(501_500, 7_770_900, 501_600, 7_771_000)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return map_site(write_small_site(tmp_path_factory.mktemp("variants") / "site"))


@pytest.fixture(scope="module")
def port(site):
    return proposal_of_features("port", frame((DREDGED, CHANNEL), (OUTFALL, PIPE), (MOORINGS, PIPE)), site.inputs)


def test_a_measure_leaves_its_share_of_the_loss_and_needs_a_source(site, port):
    def source(proposal):
        (part,) = (one for one in _additions(proposal, site) if one.entry.feeds == "dredge_work")
        (work,) = works_of(part.features, part.entry, site.inputs.site, [])
        return work.source

    curtain = Variation(measure="silt curtain", left_share=0.25, left_src="written for a test")
    # mass of fines in a second by hand: 500 m3/h x 800 kg/m3 x 0.3 x the middle of 1 % and 3 % lost
    assert source(port) == approx(500 / 3600 * 800 * 0.3 * 0.02)
    assert source(varied(port, curtain, site.inputs)) == approx(500 / 3600 * 800 * 0.3 * 0.02 * 0.25)
    with pytest.raises(ProposalError, match="Name the source of left_share"):
        varied(port, replace(curtain, left_src=""), site.inputs)


def _additions(proposal, site):
    from habitat.proposal import additions_of

    return additions_of(proposal, site.inputs)[0]


def test_features_left_out_are_gone_and_something_has_to_stay(site, port):
    left = varied(port, Variation(without="outfall 1; moorings 1"), site.inputs)
    assert [feature.label for feature in left.features] == ["dredged area 1"]
    with pytest.raises(ValueError, match='"quay 1" is not in port'):
        varied(port, Variation(without="quay 1"), site.inputs)
    with pytest.raises(ValueError, match="nothing of port is left"):
        varied(port, Variation(without="outfall 1; moorings 1; dredged area 1"), site.inputs)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_less_volume_is_dug_from_the_same_ground_and_less_deep(site, port, share):
    less = varied(port, Variation(volume=share), site.inputs)
    (before,), (after,) = port.of_kind("dredged area"), less.of_kind("dredged area")
    assert after.shape.equals(before.shape)
    assert after.get("volume_m3") == approx(share * before.get("volume_m3"))
    # the bed of the small site falls by 0.25 m a column from +2 m: columns 22 to 25 lie under the channel
    bed = 2.0 - 0.25 * np.arange(22, 26)
    volumes = [np.maximum(bed + depth, 0).sum() for depth in (after.get("depth_m"), before.get("depth_m"))]
    assert volumes[0] / volumes[1] == approx(share, abs=1e-3)


@pytest.mark.parametrize(
    "bearing, east, north", [(0, 0, 1), (90, 1, 0), (180, 0, -1), (270, -1, 0), (45, 0.5**0.5, 0.5**0.5)]
)
def test_a_bearing_is_clockwise_from_north(bearing, east, north):
    moved = shifted(1000.0, bearing)
    assert (moved.east, moved.north) == approx((1000 * east, 1000 * north), abs=0.05)


def test_months_are_those_of_a_season_that_holds_them_all(site):
    assert season_of_months([6, 7], site.inputs) == "dry"
    with pytest.raises(ValueError, match="months 4, 5: no season of the site holds them all"):
        season_of_months([4, 5], site.inputs)


def _planted(shape):
    return Feature(kind="seagrass planted", number=1, shape=shape, attributes={"share": 0.5})


def test_every_variation_stands_in_the_order_of_mitigation(port):
    expected = {
        ("avoid",): [Variation(east=50), Variation(north=-1), Variation(season="dry"), Variation(without="outfall 1")],
        ("minimise",): [
            Variation(equipment="mechanical dredge"),
            Variation(share=0.5),
            Variation(volume=0.5),
            Variation(measure="silt curtain", left_share=0.5, left_src="a test"),
        ],
    }
    for steps, variations in expected.items():
        assert all(mitigation_steps(one, port) == steps for one in variations)
    every = Variation(east=50, share=0.5)
    assert mitigation_steps(every, port, [_planted(CHANNEL), _planted(ELSEWHERE)]) == MITIGATION
    assert mitigation_steps(Variation(), port, [_planted(ELSEWHERE)]) == ("offset",)


def test_what_is_planted_besides_comes_last_and_only_plants_are_planted(site, port):
    offset = varied(port, Variation(), site.inputs, planted=[_planted(ELSEWHERE)])
    assert offset.features[-1].kind == "seagrass planted" and len(offset.features) == 4
    assert offset.steps == ("offset",) and offset.name == "port, 50% seagrass planted"
    with pytest.raises(ValueError, match="outfall 1 is not planted"):
        varied(port, Variation(), site.inputs, planted=port.of_kind("outfall"))


def test_variants_stand_side_by_side_with_the_numbers_of_each(site, port):
    conditions = read_conditions()
    given = [port, varied(port, Variation(share=0.5), site.inputs)]
    accounts = [account_of(appraise(site, [one]), conditions) for one in given]
    table = variants_table(accounts)
    assert table["variant"].unique().tolist() == ["port", "port, 50% of the size"]
    assert table["steps"].unique().tolist() == ["", "minimise"]
    for account, (_, rows) in zip(accounts, table.groupby("variant", sort=False), strict=True):
        after = account.appraisal.together.assessment
        units = unit_changes(site.assessment, after).set_index("season")
        classes = class_changes(site.assessment, after)
        for row in rows.itertuples():
            assert row.units_change == units.loc[row.season, "units_change"]
            assert row.spared_change == units.loc[row.season, "spared_change"]
            good = classes[(classes["season"] == row.season) & (classes["class"] == "good habitat")]
            assert row.good_change == good["hectares_change"].sum()
    assert table["spared_change"].nunique() > 1
    assert set(variants_table(accounts, "wet")["season"]) == {"wet"}
