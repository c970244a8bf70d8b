"""Profiles that are not there, cannot be read, or ask for what cannot be."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import all_of, edited, in_table, nothing, profile, recoded, removed

OTHER = ("check", "site", "--profile")

REFUSALS = (
    Refusal(
        kind="no profile is named and none lies there",
        spoil=removed("site/profile.toml"),
        says=(
            "profile.toml: 1 problem\n"
            "  profile: no profile.toml lies beside the site file, and none was named. Name one with "
            "--profile: a file, or one of those shipped: estuarine_grazer, marine_seagrass_grazer.\n"
        ),
    ),
    Refusal(
        kind="no profile has this name",
        command=(*OTHER, "manatee"),
        spoil=nothing,
        says=(
            "manatee: 1 problem\n"
            '  the profile: no profile is called "manatee". Give a .toml file, or one of: '
            "estuarine_grazer, marine_seagrass_grazer.\n"
        ),
    ),
    Refusal(
        kind="the profile is not there",
        command=(*OTHER, "grazer.toml"),
        spoil=nothing,
        says=(
            'grazer.toml: 1 problem\n  grazer.toml: there is no file "grazer.toml". Correct the name, or the folder.\n'
        ),
    ),
    Refusal(
        kind="a folder is named as the profile",
        command=(*OTHER, "site"),
        spoil=nothing,
        says=("site: 1 problem\n  site: this is a folder, and a text file is needed. Name a file in it.\n"),
    ),
    Refusal(
        kind="the profile is not TOML",
        spoil=profile('title = "Marine seagrass grazer"', 'title = "Marine seagrass grazer'),
        says=("profile.toml: 1 problem\n  line 13: a quotation mark is opened and not closed. Close it.\n"),
    ),
    Refusal(
        kind="the profile is in Latin-1",
        spoil=all_of(profile("Marine seagrass grazer", "Peixe-boi, manatí"), recoded("site/profile.toml", "latin-1")),
        says=(
            "profile.toml: 1 problem\n"
            "  line 13: a byte is not UTF-8 (the file may be Latin-1). Save the file as UTF-8.\n"
        ),
    ),
    Refusal(
        kind="a key of the profile is misspelt",
        spoil=in_table("factors.salinity", "weight = 1", "wieght = 1"),
        says=("profile.toml: 1 problem\n  factors.salinity.wieght: there is no such key. Did you mean `weight`?\n"),
    ),
    Refusal(
        kind="a layer is misspelt",
        spoil=in_table("factors.water_depth", 'layer = "water_depth"', 'layer = "waterdepth"'),
        says=(
            "profile.toml: 1 problem\n"
            '  factors.water_depth.layer: there is no layer "waterdepth". Did you mean "water_depth"?\n'
        ),
    ),
    Refusal(
        kind="a factor is in another unit than its layer",
        spoil=in_table("factors.water_depth", 'units = "m"', 'units = "ft"'),
        says=(
            "profile.toml: 1 problem\n"
            '  factors.water_depth.units: the unit is "ft", but water depth below the mean water level '
            'is held in "m". Convert the numbers and write units = "m".\n'
        ),
    ),
    Refusal(
        kind="a factor has no unit",
        spoil=in_table("factors.water_depth", 'units = "m"\n', ""),
        says=(
            "profile.toml: 1 problem\n"
            '  factors.water_depth: there is no unit. Write units = "m" once the numbers are in it.\n'
        ),
    ),
    Refusal(
        kind="a factor does not say where its numbers come from",
        spoil=in_table("factors.feeding_time", 'source = "expert judgement"\n', ""),
        says=("profile.toml: 1 problem\n  factors.feeding_time.source: this is missing. Add `source`.\n"),
    ),
    Refusal(
        kind="the source of a factor is empty",
        spoil=in_table("factors.feeding_time", 'source = "expert judgement"', 'source = ""'),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding_time.source: this is empty. Say where the numbers come from, or say "
            '"expert judgement".\n'
        ),
    ),
    Refusal(
        kind="the rule of the score is unknown",
        spoil=in_table("suitability", 'rule = "weighted geometric mean"', 'rule = "product"'),
        says=(
            "profile.toml: 1 problem\n"
            '  suitability.rule: "product" is not known. Use "weighted geometric mean", "weighted '
            'arithmetic mean" or "limiting factor".\n'
        ),
    ),
    Refusal(
        kind="a score may lack every factor",
        spoil=in_table("suitability", "may_lack = 2", "may_lack = 6"),
        says=(
            "profile.toml: 1 problem\n"
            "  suitability.may_lack: a score may lack 6 of 6 factors, that is all of them. It must be "
            "less than the number of factors.\n"
        ),
    ),
    Refusal(
        kind="an essential factor is not one",
        spoil=in_table("suitability", '"forage"]', '"forrage"]'),
        says=(
            'profile.toml: 1 problem\n  suitability.essential: there is no factor "forrage". Did you mean "forage"?\n'
        ),
    ),
    Refusal(
        kind="the name of a factor has a space",
        spoil=edited("site/profile.toml", "[factors.feeding_time]", '[factors."feeding time"]'),
        says=(
            "profile.toml: 1 problem\n"
            "  factors.feeding time: the name will not do. Use small letters, digits and _, a letter first.\n"
        ),
    ),
    Refusal(
        kind="a pressure has the name of a factor",
        spoil=edited("site/profile.toml", "[pressures.nets]", "[pressures.shelter]"),
        says=(
            "profile.toml: 1 problem\n"
            "  pressures.shelter: a factor has this name too. Give one of the two another name.\n"
        ),
    ),
    Refusal(
        kind="nobody says at which depths the animal feeds",
        spoil=edited("site/profile.toml", "feeding_depth = {", "# feeding_depth = {"),
        says=(
            "profile.toml: 1 problem\n"
            "  settings: feeding_time is used, but nobody says at which depths the animal feeds. Add "
            "feeding_depth = { shallowest, deepest, units, source }.\n"
        ),
    ),
    Refusal(
        kind="the animal feeds from deep to shallow",
        spoil=edited("site/profile.toml", "shallowest = 0.5", "shallowest = 5"),
        says=(
            "profile.toml: 1 problem\n"
            "  settings.feeding_depth: shallowest is 5 m and deepest is 3 m. Shallowest must be less than deepest.\n"
        ),
    ),
    Refusal(
        kind="the breaks of the classes fall",
        spoil=in_table("classes.threat", "[0.25, 0.6]", "[0.6, 0.25]"),
        says=(
            "profile.toml: 1 problem\n"
            "  classes.threat.breaks: [0.6, 0.25] cannot cut three classes. Write two rising numbers "
            "between 0 and 1.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
