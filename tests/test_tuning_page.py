"""The page that tunes a profile, in a real browser."""

from __future__ import annotations

from habitat.view import summary
from habitat.zones import hectares_by_class
from tests.pages import (
    browser,  # noqa: F401
    found_by_the_site,  # noqa: F401
    in_browser,
    serving,  # noqa: F401
    shore_site,  # noqa: F401
    visiting,  # noqa: F401
)

pytestmark = in_browser


def test_a_weight_moved_by_keyboard_scores_the_site_again_and_the_profile_goes_home(visit, found, tmp_path):
    from habitat.assessment import assess
    from habitat.profile import read_profile

    page = visit("tuning")
    page.get_by_text("0 ha change their class of habitat", exact=False).wait_for()
    handle = page.get_by_role("slider").first
    handle.focus()
    for _ in range(8):
        page.keyboard.press("ArrowLeft")
    factor = found.profile.factors[0]
    changed = found.profile.with_weight(factor.name, factor.weight - 4)
    expected = hectares_by_class(assess(found.layers, changed), "wet")
    sentence = summary.suitability_sentence(expected)
    page.get_by_text(sentence, exact=True).wait_for()
    with page.expect_download() as download:
        page.get_by_text("Take the tuned profile home (TOML)").click()
    download.value.save_as(tmp_path / "tuned.toml")
    assert read_profile(tmp_path / "tuned.toml") == changed
    page.get_by_role("button", name="As read").click()
    page.get_by_text(summary.suitability_sentence(hectares_by_class(found.assessment, "wet")), exact=True).wait_for()
