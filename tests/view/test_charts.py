"""Charts in text: every number beside its bar, nothing taken for markup."""

from xml.etree import ElementTree

import pandas as pd
import pytest

from habitat.explanation import FactorPart, PressurePart, explain
from habitat.view.charts import explanation_chart, factors_chart, pressures_chart, ranking_chart
from tests.view.places import grid_of, small_picture

NAN = float("nan")


def factor(name, *, index, pull, value=1.0, files=("a.tif",)):
    return FactorPart(
        name=name, label=name, value=value, units="m", index=index, weight=2, pull=pull, files=files, source="s"
    )


def pressure(name, *, exposure, share):
    return PressurePart(
        name=name, label=name, value=1.0, units="m", exposure=exposure, weight=0.5, share=share, files=(), source="s"
    )


def rows(markup):
    body = ElementTree.fromstring(f"<div>{markup}</div>").find(".//tbody")
    return [["".join(cell.itertext()) for cell in row] for row in body]


def widths(markup):
    body = ElementTree.fromstring(f"<div>{markup}</div>").find(".//tbody")
    return [bar.get("style").partition("width:")[2].partition(";")[0] for bar in body.iter("i")]


def test_the_factor_that_holds_a_place_down_most_comes_first_and_a_missing_one_last():
    parts = [
        factor("gap", index=NAN, pull=NAN, value=NAN, files=()),
        factor("ideal", index=1.0, pull=0.0),
        factor("poor", index=0.2, pull=0.3),
    ]
    table = rows(factors_chart(parts))
    assert [row[0] for row in table] == ["poora.tif", "ideala.tif", "gapno file: missing"]
    assert table[0][1:] == ["1.00 m", "0.20", "2", "0.30"]
    assert table[2][1:] == ["no data", "no data", "2", "no data"]


def test_a_bar_is_as_long_as_its_number_and_a_missing_one_is_hatched():
    markup = factors_chart([factor("a", index=0.25, pull=0.1), factor("b", index=NAN, pull=NAN)])
    assert widths(markup) == ["25.0%"]
    assert markup.count('class="track hatch"') == 1


def test_the_pressure_with_the_largest_share_comes_first():
    parts = [pressure("weak", exposure=0.1, share=0.2), pressure("strong", exposure=0.9, share=0.8)]
    assert [row[0] for row in rows(pressures_chart(parts))] == ["strongno file: missing", "weakno file: missing"]
    assert [row[-1] for row in rows(pressures_chart(parts))] == ["80%", "20%"]


def test_a_real_cell_is_taken_apart_with_all_its_parts():
    picture = small_picture()
    grid = grid_of(picture)
    explanation = explain(
        picture.layers, picture.assessment, picture.profile, grid.x[3], grid.y[3], season=picture.season
    )
    markup = explanation_chart(explanation)
    assert explanation.concern in markup
    for part in (*explanation.factors, *explanation.pressures):
        assert part.label in markup
        assert part.files[0] in markup


def test_the_ranking_draws_the_first_pressure_full_and_the_others_to_scale():
    ranking = pd.DataFrame(
        {
            "label": ["nets", "dredging"],
            "habitat_units": [400.0, 100.0],
            "hectares_heaviest": [50.0, 0.0],
            "hectares_reached": [900.0, 300.0],
        }
    )
    assert rows(ranking_chart(ranking)) == [
        ["nets", "400 ha", "50 ha", "900 ha"],
        ["dredging", "100 ha", "0 ha", "300 ha"],
    ]
    assert widths(ranking_chart(ranking)) == ["100.0%", "25.0%"]


def test_a_profile_without_pressures_gives_an_empty_table():
    empty = pd.DataFrame(columns=["label", "habitat_units", "hectares_heaviest", "hectares_reached"])
    assert rows(ranking_chart(empty)) == []


@pytest.mark.parametrize("words", ["<script>alert(1)</script>", '"><b>', "a & b"])
def test_words_from_a_users_file_are_never_markup(words):
    part = factor(words, index=0.5, pull=0.1, files=(words,))
    assert rows(factors_chart([part]))[0][0] == words + words
    assert "<script" not in factors_chart([part])


def test_nothing_presses_means_no_leader():
    markup = pressures_chart([pressure("calm", exposure=0.0, share=0.0)])
    assert 'class="leads"' not in markup
