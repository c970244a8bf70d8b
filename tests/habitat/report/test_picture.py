import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from habitat.colours import LAND, NO_DATA, NO_DATA_HATCH, class_colours, rgb, scale_of
from habitat.report.picture import Size, code_pixels, dotted, hatched, lined, map_picture, mean_pixels
from layers import quantity as q

SCALE = scale_of("suitability")


def test_a_pixel_for_many_cells_shows_the_mean_of_those_with_data():
    cells = np.array([[0, 1, np.nan, np.nan], [2, np.nan, np.nan, 5]], np.float32)
    assert np.array_equal(mean_pixels(cells, Size(height=1, width=2)), [[1, np.nan]], equal_nan=True)


@given(st.integers(1, 40), st.integers(1, 40), st.integers(1, 40), st.integers(1, 40))
def test_every_pixel_of_an_even_layer_has_its_value(rows, columns, height, width):
    cells = np.full((rows, columns), 0.25, np.float32)
    assert (mean_pixels(cells, Size(height=height, width=width)) == 0.25).all()


@given(arrays(np.uint8, (7, 9), elements=st.integers(0, 4)), st.integers(1, 7), st.integers(1, 9))
def test_a_pixel_of_codes_shows_a_code_that_none_of_its_cells_outnumber(codes, height, width):
    shown = code_pixels(codes, Size(height=height, width=width))
    if height == 7 or width == 9:
        assert np.isin(shown, codes).all()
        return
    rows = np.arange(height + 1) * 7 // height
    columns = np.arange(width + 1) * 9 // width
    for y in range(height):
        for x in range(width):
            block = codes[rows[y] : rows[y + 1], columns[x] : columns[x + 1]]
            counts = np.bincount(block.ravel(), minlength=5)
            assert counts[shown[y, x]] == counts.max()


def test_an_enlarged_layer_repeats_its_cells():
    cells = np.array([[1, 2], [3, 4]], np.float32)
    assert np.array_equal(mean_pixels(cells, Size(height=4, width=4)), np.kron(cells, np.ones((2, 2))))


@pytest.fixture
def coast():
    surface = np.full((20, 30), q.WATER, np.uint8)
    surface[:5] = q.LAND
    values = np.full((20, 30), 0.5, np.float32)
    values[:5] = np.nan
    values[10:, :10] = np.nan
    return values, surface


def test_no_data_is_hatched_and_never_takes_a_colour_of_the_scale(coast):
    values, surface = coast
    picture = map_picture(values, SCALE, Size(height=200, width=300), surface=surface)
    hole = picture[110:, :90].reshape(-1, 3)
    assert set(map(tuple, hole)) == {tuple(rgb(NO_DATA)), tuple(rgb(NO_DATA_HATCH))}
    assert not {tuple(rgb(colour)) for colour in SCALE.colours} & set(map(tuple, hole))


def test_a_cell_without_a_class_is_hatched_too(coast):
    _, surface = coast
    codes = np.zeros((20, 30), np.uint8)
    picture = map_picture(codes, class_colours("concern"), Size(height=200, width=300), surface=surface)
    assert np.array_equal(picture[60:], hatched(Size(height=200, width=300))[60:])


def test_land_is_land_whatever_the_layer_says(coast):
    values, surface = coast
    values[:5] = 1
    picture = map_picture(values, SCALE, Size(height=200, width=300), surface=surface)
    assert np.array_equal(picture[:48], lined(Size(height=200, width=300))[:48])
    assert (lined(Size(height=200, width=300)) == rgb(LAND)).all(axis=2).mean() > 0.8


def test_a_cell_scored_without_all_its_factors_is_dotted_and_a_missing_one_is_not(coast):
    values, surface = coast
    lacking = np.zeros(values.shape, bool)
    lacking[:, 5:20] = True
    size = Size(height=200, width=300)
    plain = map_picture(values, SCALE, size, surface=surface)
    marked = map_picture(values, SCALE, size, surface=surface, lacking=lacking)
    differs = (plain != marked).any(axis=2)
    assert differs[60:100, 50:200].any() and differs[100:, 100:200].any()
    assert not differs[:, 200:].any()  # complete
    assert not differs[100:, :100].any()  # missing
    assert not differs[:50].any()  # land


@pytest.mark.parametrize("level", [0, 255])
def test_dots_are_seen_on_black_and_on_white(level):
    ground = np.full((16, 16, 3), level, np.uint8)
    assert np.abs(dotted(ground, np.ones((16, 16), bool)).astype(int) - level).max() > 200
