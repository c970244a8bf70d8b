"""Curves of factors and fades of pressures that cannot be."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import all_of, in_table

REFUSALS = (
    Refusal(
        kind="the points of a curve are out of order",
        spoil=in_table("factors.feeding_time", "[0.5, 1.0]", "[-0.5, 1.0]"),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time.points: -0.5 comes after 0. Order the points by rising value.\n"
        ),
    ),
    Refusal(
        kind="an index is above 1",
        spoil=in_table("factors.feeding_time", "[0.5, 1.0]", "[0.5, 10]"),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time.points: the index at 0.5 is 10. An index lies between 0 and 1.\n"
        ),
    ),
    Refusal(
        kind="a curve has one point",
        spoil=in_table("factors.feeding_time", "  [0.5, 1.0],\n", ""),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time.points: these are not points of a curve. Write two or more pairs "
            "[value, index].\n"
        ),
    ),
    Refusal(
        kind="a value of a curve is beyond what its layer can hold",
        spoil=in_table("factors.water_temperature", "[36.0, 0.5]", "[96.0, 0.5]"),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.water_temperature.points: 96 degree_Celsius is no plausible water temperature. It "
            "lies between -2 and 45 degree_Celsius: check the unit.\n"
        ),
    ),
    Refusal(
        kind="a factor has no curve",
        spoil=in_table("factors.feeding_time", "points = [\n  [0.0, 0.2],\n  [0.5, 1.0],\n]", ""),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time: there is no curve. Give one of `points`, `trapezoid` and `categories`.\n"
        ),
    ),
    Refusal(
        kind="a factor has two curves",
        spoil=in_table("factors.feeding_time", "points = [", "trapezoid = [0, 0.2, 0.8, 1]\npoints = ["),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time: there are 2 curves: points, trapezoid. Give one of `points`, "
            "`trapezoid` and `categories`.\n"
        ),
    ),
    Refusal(
        kind="a trapezoid falls back",
        spoil=in_table(
            "factors.feeding_time", "points = [\n  [0.0, 0.2],\n  [0.5, 1.0],\n]", "trapezoid = [0, 0.8, 0.2, 1]"
        ),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time.trapezoid: [0.0, 0.8, 0.2, 1.0] is not a trapezoid. Write four "
            "values that do not fall: [a, b, c, d].\n"
        ),
    ),
    Refusal(
        kind="a category is none of its layer",
        spoil=in_table(
            "factors.feeding_time",
            'layer = "feeding_time"\nweight = 2\nunits = "1"\nsource = "expert judgement"\n'
            'doubt = { threshold = 0.1, units = "1", weight_share = 0.3, source = "expert judgement" }\n'
            "points = [\n  [0.0, 0.2],\n  [0.5, 1.0],\n]",
            'layer = "surface"\nweight = 2\nsource = "expert judgement"\ncategories = { water = 1.0, swamp = 0.5 }',
        ),
        says=(
            "profile.toml: 1 problem\n"
            '  factors.feeding_time.categories: "swamp" is no category. Use: unknown, land, intertidal, water.\n'
        ),
    ),
    Refusal(
        kind="a weight is negative",
        spoil=in_table("factors.salinity", "weight = 1", "weight = -1"),
        says=("profile.toml: 1 problem\n  factors.salinity.weight: -1 is too small. Give 0 or more.\n"),
    ),
    Refusal(
        kind="the weight of a pressure is above 1",
        spoil=in_table("pressures.nets", "weight = 0.7", "weight = 7"),
        says=("profile.toml: 1 problem\n  pressures.nets.weight: 7 is too large. Give 1 or less.\n"),
    ),
    Refusal(
        kind="a fade has no reach",
        spoil=in_table("pressures.nets", "reach = 3000\n", ""),
        says=("profile.toml: 1 problem\n  pressures.nets: the fade is incomplete. Add `reach`.\n"),
    ),
    Refusal(
        kind="a pressure ends before it begins to fade",
        spoil=in_table("pressures.nets", "full = 500", "full = 5000"),
        says=(
            "profile.toml: 1 problem\n"
            "  pressures.nets: full is 5000 m and reach is 3000 m. The reach must be greater than full.\n"
        ),
    ),
    Refusal(
        kind="a fade has an unknown shape",
        spoil=in_table("pressures.nets", 'fade = "linear"', 'fade = "quadratic"'),
        says=(
            "profile.toml: 1 problem\n"
            '  pressures.nets.fade: "quadratic" is not known. Use "linear", "exponential" or "gaussian".\n'
        ),
    ),
    Refusal(
        kind="a quantity fades as if it were a distance",
        spoil=all_of(
            in_table(
                "pressures.nets",
                'layer = "net_distance"\nweight = 0.7\nunits = "m"',
                'layer = "salinity"\nweight = 0.7\nunits = "1"',
            ),
            in_table("pressures.nets", 'doubt = { threshold = 300, units = "m", ', "doubt = { "),
        ),
        says=(
            "profile.toml: 1 problem\n"
            "  pressures.nets: practical salinity is not a distance. Give `points` of [value, exposure].\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
