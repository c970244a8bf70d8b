"""The variogram against fields of a known one, and gstools' own models."""

import gstools
import numpy as np
import pytest
from scipy.spatial.distance import cdist

from layers.variogram import SHAPES, Variogram, fitted_variogram

PEERS = {"exponential": gstools.Exponential, "spherical": gstools.Spherical, "matern 3/2": gstools.Matern}


def simulated(model, count, side, seed):
    """Places at random and a field there that has exactly the covariance of `model`. [m]"""
    random = np.random.default_rng(seed)
    places = random.uniform(0, side, (count, 2))
    root = np.linalg.cholesky(model.covariance(cdist(places, places)) + 1e-9 * np.eye(count))
    return places, root @ random.standard_normal(count)


@pytest.mark.parametrize("name", SHAPES)
def test_a_curve_is_that_of_gstools_and_reaches_95_per_cent_at_its_range(name):
    curve = Variogram(name=name, nugget=0.2, sill=1.7, range=900).model()
    options = {"nu": 1.5} if name.startswith("matern") else {}
    peer = PEERS[name](dim=2, var=1.5, nugget=0.2, **options)
    peer.len_scale = 900 / peer.percentile_scale(0.95)
    lags = np.linspace(1, 3000, 50)
    np.testing.assert_allclose(curve.variogram(lags), peer.variogram(lags), rtol=1e-5)
    assert curve.variogram(900.0) == pytest.approx(0.2 + 0.95 * 1.5, rel=1e-4)


@pytest.mark.parametrize("name", SHAPES)
def test_it_finds_the_curve_that_fields_were_made_with(name):
    # one field of a few ranges across says little of its sill: the median of nine does, to some tenths
    known = Variogram(name=name, nugget=0.0, sill=1.5, range=1000)
    found = []
    for seed in range(9):
        places, field = simulated(known.model(), 500, 8000, seed)
        found.append(fitted_variogram([(places, field, np.full(500, 1e-4))]))
    assert np.median([fit.sill for fit in found]) == pytest.approx(1.5, rel=0.25)
    assert np.median([fit.range for fit in found]) == pytest.approx(1000, rel=0.2)
    assert np.median([fit.nugget for fit in found]) < 0.1
    assert [fit.name for fit in found].count(name) >= 5  # three would be by chance


def test_errors_of_the_soundings_are_not_taken_for_relief():
    places, field = simulated(Variogram(name="spherical", nugget=0, sill=1, range=1500).model(), 900, 6000, 3)
    error = np.where(np.arange(900) % 2, 0.4, 0.6)
    noisy = field + error * np.random.default_rng(8).standard_normal(900)
    told = fitted_variogram([(places, noisy, error**2)])
    untold = fitted_variogram([(places, noisy, np.full(900, 1e-6))])
    # the mean error variance is 0.26 m2
    assert untold.nugget - told.nugget == pytest.approx(0.26, abs=0.05)
    assert untold.sill - told.sill == pytest.approx(0.26, abs=0.05)
    assert told.nugget < 0.12  # and 0.04 where the same field is sounded without error


def test_a_few_wild_soundings_do_not_shape_it():
    places, field = simulated(Variogram(name="spherical", nugget=0, sill=1, range=1500).model(), 400, 6000, 4)
    error = np.full(400, 0.05)
    plain = fitted_variogram([(places, field, error**2)])
    error[::20] = 30.0
    wild = np.where(error > 1, 40.0, field)
    left = fitted_variogram([(places[error < 1], field[error < 1], error[error < 1] ** 2)])
    assert fitted_variogram([(places, wild, error**2)]) == left
    assert left.sill == pytest.approx(plain.sill, rel=0.2)


def test_pairs_across_two_waters_do_not_count():
    model = Variogram(name="exponential", nugget=0, sill=1, range=900).model()
    (east, one), (west, two) = simulated(model, 300, 4000, 1), simulated(model, 300, 4000, 2)
    error = np.full(300, 1e-4)
    together = fitted_variogram([(east, one, error), (west, two, error)])
    # the second lake 50 m higher and where it will
    assert fitted_variogram([(east, one, error), (west + 700, two + 50, error)]).sill == pytest.approx(
        together.sill, rel=1e-6
    )


def test_a_bed_flatter_than_the_errors_has_a_small_but_not_a_nil_sill():
    places = np.random.default_rng(0).uniform(0, 1000, (50, 2))
    fit = fitted_variogram([(places, np.zeros(50), np.full(50, 0.04))])
    assert fit.sill == pytest.approx(0.1 * 0.04)
    assert fit.nugget == 0


def test_many_soundings_keep_their_short_distances():
    known = Variogram(name="exponential", nugget=0, sill=1, range=400).model()
    places, field = simulated(known, 2500, 2500, 6)
    fit = fitted_variogram([(places, field, np.full(2500, 1e-4))])
    assert fit.sill == pytest.approx(1, rel=0.3)
    assert fit.range == pytest.approx(400, rel=0.4)
    assert fit.nugget < 0.1


def test_soundings_each_in_its_own_pond_are_refused():
    ponds = [(np.array([[x, 0.0]]), np.array([1.0]), np.array([0.01])) for x in range(12)]
    with pytest.raises(ValueError, match=r"^soundings: no two lie in the same water body\. Check `water`"):
        fitted_variogram(ponds)
