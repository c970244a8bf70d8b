"""What the page on trust says and draws, held to grids and tables written out by hand."""

from types import SimpleNamespace

import holoviews as hv
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from habitat.result import CONCERN_CLASSES, SUITABILITY_CLASS, SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.site_doubt import PlaceDoubt
from habitat.site_evidence import NO_SIGHTINGS
from habitat.uncertainty import SPARED, UNITS
from habitat.view import trust, trust_maps, trust_words
from habitat.view.desk import Work
from habitat.view.trust_charts import Range, chances_chart, range_chart, share_chart
from habitat.view.trust_evidence import agreement, verdict_sentence
from habitat.view.trust_findings import Findings, asked_of_query, next_wish, with_spread
from habitat.view.trust_people import of_upload
from layers.demo.judgements import TABLE
from layers.fault import ProfileError
from layers.grid import Grid
from layers.quantity import Quantity, describe
from tests.scoring import small_profile

hv.extension("bokeh")
NAN = np.nan
GRID = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_400, 7_770_300, 100)  # cells of one hectare
CONFIDENCE = [[1.0, 0.9, 0.9, 0.7], [0.7, 0.6, 0.5, 0.4], [NAN, NAN, 1.0, 1.0]]
CODES = [[3, 3, 2, 2], [2, 1, 1, 3], [0, 0, 1, 1]]
GOOD = [[1.0, 0.9, 0.1, 0.3], [0.3, 0.0, 0.1, 0.4], [NAN, NAN, 0.0, 0.0]]
LOW = [[0.7, 0.6, 0.5, 0.4], [0.3, 0.2, 0.2, 0.2], [NAN, NAN, 0.1, 0.1]]
HIGH = [[0.8, 0.8, 0.6, 0.6], [0.5, 0.3, 0.6, 0.9], [NAN, NAN, 0.2, 0.2]]


def layer(name, values):
    quantity = Quantity(name=name, label=name.replace("_", " "), units="1", plausible=(0, 1))
    return describe(GRID.label(np.array(values, np.float32), quantity), quantity)


@pytest.fixture
def doubt():
    """A site of ten scored cells of one hectare, without seasons."""
    cells = xr.Dataset(
        {
            "confidence": layer("confidence", CONFIDENCE),
            "chance_good": layer("chance_good", GOOD),
            "suitability_quantile_5": layer("suitability_quantile_5", LOW),
            "suitability_quantile_95": layer("suitability_quantile_95", HIGH),
            "likeliest_class": GRID.label(np.array(CODES, np.uint8), SUITABILITY_CLASS),
        }
    )
    rows = [
        ("", kind, name, 100.0, 75.0, 101.0, 150.0)
        for kind, names in (
            ("suitability", SUITABILITY_CLASSES),
            ("threat", THREAT_CLASSES),
            ("concern", CONCERN_CLASSES),
            ("units", (UNITS, SPARED)),
        )
        for name in names
    ]
    columns = ["season", "kind", "class", "taken", "low", "median", "high"]
    found = SimpleNamespace(cells=cells, conclusions=pd.DataFrame(rows, columns=columns))
    return SimpleNamespace(found=found)


@pytest.fixture
def findings(doubt):
    return SimpleNamespace(doubt=doubt, ranking=None)


PICTURE = SimpleNamespace(season=None)


def test_the_sentences_of_the_maps_count_the_cells(doubt):
    assert trust_words.confidence_sentence(doubt, None) == (
        "50% of the water scored (5.0 ha) keeps its class in nine draws in ten or more; in 2.0 ha (20%) not even six "
        "draws in ten agree."
    )
    # 1.0 and 0.9 are sure, 0.3, 0.3 and 0.4 open; 0.1 is not, though float32 has it just above a tenth
    said = trust_words.chance_sentence(doubt, "chance_good", None)
    assert said.startswith("2.0 ha are good habitat in at least nine draws in ten; for 3.0 ha it is open")
    widths = np.subtract(HIGH, LOW)
    assert trust_words.spread_sentence(doubt, None) == (
        f"In half of the water, nine draws in ten lie within {np.nanmedian(widths):.2f} of each other; where it is "
        f"widest, within {np.nanmax(widths):.2f}."
    )


def test_dots_lie_over_cells_that_are_not_sure_and_grow_with_doubt(findings):
    dots = trust_maps.doubt_dots(findings, PICTURE).dframe()
    expected = {
        (500_350, 7_770_250): 1,
        (500_050, 7_770_150): 1,
        (500_150, 7_770_150): 1,
        (500_250, 7_770_150): 2,
        (500_350, 7_770_150): 2,
    }
    drawn = {(east, north): size for east, north, size in dots.to_numpy()}
    assert drawn == {place: trust_maps.DOTS[band] for place, band in expected.items()}
    far = trust_maps.doubt_dots(findings, PICTURE, (600_000, 600_100), (7_770_000, 7_770_300))
    assert len(far) == 0


def test_the_maps_draw_the_cells_and_the_legend_names_every_pair(findings):
    picture = trust_maps.likeliest_map(findings, PICTURE)
    drawn = picture.dimension_values(2, flat=False)[::-1]
    np.testing.assert_array_equal(drawn, np.where(np.array(CODES) == 0, NAN, CODES))
    chance = trust_maps.chance_map(findings, PICTURE, "chance_good").dimension_values(2, flat=False)[::-1]
    np.testing.assert_array_equal(chance, np.array(GOOD, np.float32))
    spread = trust_maps.spread_map(findings, PICTURE).dimension_values(2, flat=False)[::-1]
    np.testing.assert_allclose(spread, np.subtract(HIGH, LOW), atol=1e-6)
    legend = trust_maps.confidence_legend(findings)
    for name in SUITABILITY_CLASSES[1:]:
        for words in trust_maps.BANDS:
            assert f'aria-label="{name}, {words} draws agree"' in legend
    assert legend.count("radial-gradient") == 6 and "no data" in legend


def test_the_chart_of_conclusions_places_its_bars_and_the_table_has_every_class(doubt, findings):
    assert trust_words.interval_sentence(doubt, None) == (
        "The map has 100 ha of good habitat over the year; nine draws in ten have between 75 ha and 150 ha: it may be "
        "25% less or 50% more."
    )
    chart = trust_words.intervals(findings, PICTURE)
    # 75 to 150 of an axis that ends at 150, the map at 100
    assert chart.count('class="span" style="left:50.00%;width:50.00%"') == len(trust_words.CHARTED)
    assert chart.count('class="taken" style="left:66.67%"') == len(trust_words.CHARTED)
    table = trust_words.interval_table(findings, PICTURE)
    assert table.count("<tr>") == 3 + 3 + 9 + 2 + 1 and "no data" not in table


def test_a_range_that_cannot_be_told_has_no_bar():
    row = Range(name="Wet", low=NAN, high=NAN, figure="", range_words="too few to tell", chance=0.0)
    chart = range_chart([row], -1, 1)
    assert 'class="span"' not in chart and 'class="middle"' not in chart
    assert 'class="chance" style="left:50.00%"' in chart and "too few to tell" in chart


def shares(*rows):
    return pd.DataFrame(rows, columns=["label", "first_order", "total", "confidence"])


def test_what_the_map_depends_on_is_said_in_plain_shares():
    table = shares(("where the curve of depth stands", 0.45, 0.5, 0.05), ("the weight of forage", 0.1, 0.3, 0.05))
    assert trust_words.ranking_sentence(table, "good") == (
        "About half of the doubt about the hectares of good habitat is where the curve of depth stands; about a third "
        "is the weight of forage."
    )
    unclear = shares(("the weight of forage", 0.1, 0.3, 0.4))
    assert "cannot be told from so few draws" in trust_words.ranking_sentence(unclear, "good")
    assert "hardly depend on any" in trust_words.ranking_sentence(unclear.assign(total=0.01), "concern")
    chart = share_chart(table)
    assert chart.index("width:50.00%") < chart.index("width:45.00%"), "the pale bar must lie under the dark one"


def test_what_is_explained_alone_is_never_more_than_what_is_explained(findings):
    rows = [("", "good", "a", "a", 0.2, 0.1, 0.01), ("", "good", "b", "b", 0.1, 0.15, 0.01)]
    columns = ["season", "conclusion", "key", "label", "first_order", "total", "confidence"]
    found = trust_words.ranking_of(SimpleNamespace(table=pd.DataFrame(rows, columns=columns)), "good", None)
    assert found["label"].tolist() == ["a", "b"] and found["total"].tolist() == [0.2, 0.15]


def place(chances, moves):
    table = pd.DataFrame(moves, columns=["name", "first_order", "confidence"])
    return PlaceDoubt(place=(0.0, 0.0), season="", chances=chances, low=0.3, median=0.5, high=0.72, moves=table)


def test_a_place_tells_its_likeliest_class_and_what_moves_it():
    chances = dict(zip(SUITABILITY_CLASSES[1:], (0.1, 0.4, 0.5), strict=True))
    found = place(chances, [("the weight of forage", 0.6, 0.1), ("the depth", 0.2, 0.05)])
    assert trust_words.place_words(found) == (
        "Likeliest is good habitat, in 50% of the draws. Nine draws in ten give it a suitability between 0.30 and "
        "0.72. What moves its score most is the weight of forage: 60% of its doubt; then the depth, 20%."
    )
    assert chances_chart(found).count("width:") == 3
    # of classes as likely, the poorer
    assert place({"poor habitat": 0.5, "good habitat": 0.5}, []).likeliest == "poor habitat"
    assert "No single doubt" in trust_words.place_words(place(chances, [("the depth", 0.05, 0.1)]))
    assert "Too few draws" in trust_words.place_words(place(chances, [("the depth", NAN, NAN)]))
    assert "has no score" in trust_words.place_words(place({}, []))
    assert "outside" in trust_words.place_words(None)


def season(name, verdict):
    return SimpleNamespace(season=name, verdict=verdict)


def test_seasons_of_one_verdict_are_told_together():
    better, few = "better than chance", "too few to tell"
    found = SimpleNamespace(seasons=(season("wet", better), season("dry", few), season("all seasons", better)))
    assert verdict_sentence(found) == (
        "In the wet season and over all seasons, the map is better than chance at saying where animals are seen; in "
        "the dry season, the sightings are too few to tell whether the map is right."
    )


def test_a_site_without_sightings_says_so():
    assert NO_SIGHTINGS in agreement(Findings(is_held=True))
    assert "Not worked out yet" in agreement(Findings())


def test_the_page_goes_on_by_itself_until_all_is_found_and_not_before_the_first_draws():
    assert next_wish(Findings(), None, None) is None
    first = Findings(doubt=SimpleNamespace())
    assert next_wish(first, None, None)[0] == "what the sightings say"
    second = Findings(doubt=SimpleNamespace(), is_held=True)
    assert next_wish(second, None, None)[0] == "what the map depends on"
    assert next_wish(Findings(doubt=SimpleNamespace(), is_held=True, ranking=SimpleNamespace()), None, None) is None
    with pytest.raises(ValueError, match="no weights of people"):
        with_spread(first)


def test_after_a_stop_the_page_waits():
    asked = []
    desk = SimpleNamespace(site_map=None, bench=Findings(doubt=SimpleNamespace()), do=lambda *wish: asked.append(wish))
    for work in (Work(note="Stopped."), Work(trouble="no"), Work(doing="it")):
        desk.work = work
        trust._go_on(desk)
    assert asked == []
    desk.work = Work()
    trust._go_on(desk)
    assert [doing for doing, _ in asked] == ["what the sightings say"]


def test_judgements_about_what_the_profile_lacks_are_refused_when_they_are_loaded():
    with pytest.raises(ProfileError, match="the profile has no factor of that name"):
        of_upload(small_profile(), {"asked.csv": TABLE}, Findings())
    plain = TABLE.replace("forage", "seagrass_cover").replace("water_temperature", "salinity")
    lines = [line for line in plain.splitlines() if "shelter" not in line]
    found = of_upload(small_profile(), {"asked.csv": "\n".join(lines).encode()}, Findings())
    assert list(found.people.everybody.people.index) == ["ecologist", "fisher", "ranger"]


@pytest.mark.parametrize(
    ("query", "asked"),
    [
        ({"draws": 1000, "seed": 42}, (1000, 42)),
        ({"draws": 10**9, "seed": -1}, (500, 1)),
        ({"draws": "500", "seed": True}, (500, 1)),
        ({"seed": 0}, (500, 0)),
        ({}, (500, 1)),
    ],
)
def test_the_address_is_trusted_for_nothing_but_what_is_offered(query, asked):
    assert asked_of_query(query) == asked


def test_what_stands_in_the_way_is_escaped_and_said_in_an_alert():
    said = trust_words.state(Work(trouble="<b>no</b>"))
    assert 'role="alert"' in said and "&lt;b&gt;no" in said
    assert "Working out" in trust_words.state(Work(doing="it"))
