"""Kriging by tiles: against systems solved by hand, another kriging library, and one system for all."""

import numpy as np
import pytest
from pykrige.ok import OrdinaryKriging
from scipy.spatial.distance import cdist

from layers import kriging_tiles
from layers.kriging_tiles import kriged
from layers.soundings import Soundings
from layers.variogram import Variogram

CURVE = Variogram(name="exponential", nugget=0.02, sill=1.02, range=1500)


def survey(count, side=4000.0, seed=1, error=0.05):
    """Soundings at random of a bed of waves."""
    random = np.random.default_rng(seed)
    places = random.uniform(0, side, (count, 2))
    bed = np.sin(places[:, 0] / 400) + np.cos(places[:, 1] / 300) + error * random.standard_normal(count)
    return Soundings(places, bed, np.full(count, error**2))


def one_system(points, soundings, curve):
    """Ordinary kriging written out: covariances, a Lagrange multiplier, numpy's solver."""
    count, scale = len(soundings), curve.range / np.log(20)  # exp(-h / scale) has fallen to 5 % at the range

    def covariance(one, two):
        return (curve.sill - curve.nugget) * np.exp(-cdist(one, two) / scale)

    system = np.ones((count + 1, count + 1))
    system[:count, :count] = covariance(soundings.places, soundings.places)
    system[:count, :count] += np.diag(soundings.variance + curve.nugget)
    system[count, count] = 0
    right = np.vstack([covariance(soundings.places, points), np.ones(len(points))])
    weights = np.linalg.solve(system, right)
    return soundings.elevation @ weights[:count], np.sqrt(curve.sill - (weights * right).sum(axis=0))


def test_three_soundings_with_their_own_errors_solved_by_hand():
    three = Soundings(
        np.array([[0.0, 0.0], [300.0, 0.0], [0.0, 400.0]]), np.array([-1.0, -2.0, -4.0]), np.array([0.01, 0.25, 0.04])
    )
    points = np.array([[100.0, 100.0], [0.0, 0.0], [250.0, 30.0], [900.0, 900.0]])
    estimate, error = kriged(points, three, CURVE)
    by_hand, its_error = one_system(points, three, CURVE)
    np.testing.assert_allclose(estimate, by_hand, rtol=1e-6)
    np.testing.assert_allclose(error, its_error, rtol=1e-6)


def test_one_sounding_in_closed_form():
    # its weight is 1 wherever the point: variance = sill + nugget + error variance + part of the sill - 2 covariance
    one = Soundings(np.array([[0.0, 0.0]]), np.array([-3.0]), np.array([0.09]))
    estimate, error = kriged(np.array([[1500.0, 0.0], [0.0, 0.0]]), one, CURVE)
    np.testing.assert_allclose(estimate, -3)
    np.testing.assert_allclose(error**2, [1.02 + 0.02 + 0.09 + 1 - 2 * 0.05, 0.02 + 0.02 + 0.09], rtol=1e-6)


@pytest.mark.parametrize("name", ["exponential", "spherical"])
def test_another_kriging_library_gives_the_same(name):
    soundings = survey(60, error=1e-7)
    curve = Variogram(name=name, nugget=0.1, sill=1.3, range=1500)
    # pykrige: an exponential's range is that of 95 %, a spherical's that of the whole rise
    whole = curve.model().len_scale if name == "spherical" else 3 * curve.model().len_scale
    peer = OrdinaryKriging(
        *soundings.places.T,
        soundings.elevation,
        variogram_model=name,
        variogram_parameters={"psill": 1.2, "range": whole, "nugget": 0.1},
    )
    points = np.random.default_rng(7).uniform(0, 4000, (200, 2))
    known, variance = peer.execute("points", *points.T)
    estimate, error = kriged(points, soundings, curve)
    np.testing.assert_allclose(estimate, known, atol=1e-6)
    np.testing.assert_allclose(error**2, variance, atol=1e-6)


def test_tiles_come_close_to_one_system_of_all_soundings():
    soundings = survey(700)
    points = np.stack(np.meshgrid(np.linspace(0, 4000, 60), np.linspace(0, 4000, 60)), axis=-1).reshape(-1, 2)
    assert len(list(kriging_tiles._tiles(points, soundings.places))) > 15
    estimate, error = kriged(points, soundings, CURVE)
    whole, its_error = one_system(points, soundings, CURVE)
    off = (estimate - whole) / its_error
    assert np.sqrt(np.mean(off**2)) < 0.02
    assert np.abs(off).max() < 0.3
    np.testing.assert_allclose(error, its_error, rtol=0.1)
    assert (error >= its_error * (1 - 1e-6)).all()  # fewer soundings never know more


def test_no_edge_of_a_tile_shows(monkeypatch):
    soundings = survey(700)
    along = np.arange(0, 4000.5)
    lines = [np.column_stack([along, along * slope + 700]) for slope in (0.02, 0.6)]
    known = [one_system(line, soundings, CURVE) for line in lines]

    def largest_step():
        """From metre to metre, of what the tiles add to one system of all soundings."""
        pairs = [(kriged(line, soundings, CURVE), whole) for line, whole in zip(lines, known, strict=True)]
        return np.max([np.abs(np.diff(np.subtract(*pair), axis=1)).max(axis=1) for pair in pairs], axis=0)

    bed, error = largest_step()
    assert bed < 1e-3 and error < 1e-3  # of 1 m relief
    monkeypatch.setattr(kriging_tiles, "OVERLAP", 1e-9)
    cut_bed, cut_error = largest_step()
    assert cut_bed > 0.02 and cut_error > 0.02, "the check would not see an edge"


def test_the_number_of_our_threads_does_not_show():
    soundings, points = survey(400), np.random.default_rng(0).uniform(-200, 4200, (500, 2))
    for one, three in zip(
        kriged(points, soundings, CURVE, workers=1), kriged(points, soundings, CURVE, workers=3), strict=True
    ):
        np.testing.assert_array_equal(one, three)


def test_a_crowd_at_one_place_does_not_swamp_the_system():
    crowd = survey(2000, side=20.0)
    points = np.array([[x, 10.0] for x in np.linspace(-500, 500, 30)])
    assert max(len(tile.soundings) for tile in kriging_tiles._tiles(points, crowd.places)) <= kriging_tiles.MOST
    estimate, error = kriged(points, crowd, CURVE)
    assert np.isfinite(estimate).all() and (error > 0).all()


@pytest.mark.parametrize("name", ["exponential", "spherical", "matern 3/2"])
def test_places_that_nearly_touch_can_be_solved(name):
    exact = survey(100, side=100.0, error=1e-9)
    twice = Soundings(
        np.vstack([exact.places, exact.places + 0.01]), np.tile(exact.elevation, 2), np.tile(exact.variance, 2)
    )
    estimate, _ = kriged(exact.places, twice, Variogram(name=name, nugget=0.0, sill=1.0, range=5000))
    np.testing.assert_allclose(estimate, exact.elevation, atol=1e-3)
