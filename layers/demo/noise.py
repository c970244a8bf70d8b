"""Smooth noise with a seed: what gives the invented coast, beds and records their irregularity.

Every part of the site draws from a generator of its own name, so a change in one part leaves all others as
they were.
"""

from __future__ import annotations

import zlib

import numpy as np
import scipy.fft

SEED = 4021


def generator(part: str) -> np.random.Generator:
    """The random generator of one named part of the site; the same draws every time.

    Examples
    --------
    >>> bool(generator("coast").random() == generator("coast").random())
    True
    >>> bool(generator("coast").random() == generator("reef").random())
    False
    """
    return np.random.default_rng([SEED, zlib.crc32(part.encode())])


def fractal_noise(
    part: str, shape: tuple[int, int], cell: float, *, longest: float, roughness: float = 1.9
) -> np.ndarray:
    """Noise without a preferred place, mean 0 and standard deviation 1.

    Parameters
    ----------
    part : str
        Name of the generator that draws it.
    shape : (M, N)
        Rows and columns.
    cell : float
        Side of a cell. [km]
    longest : float
        Longest wavelength that still has full strength. [km]
    roughness : float
        Amplitude falls with wavenumber to the power of minus this; less is rougher. [1]

    Returns
    -------
    (M, N) array, float32

    Notes
    -----
    Spectral synthesis: white noise, filtered by ``(1 + (longest k)^2)^(-roughness / 2)`` in the wavenumber
    domain on a torus an eighth larger than `shape`, so that opposite edges do not match.
    """
    large = tuple(scipy.fft.next_fast_len(side + side // 8, real=True) for side in shape)
    white = generator(part).standard_normal(large, dtype=np.float32)
    k_y = (longest * np.fft.fftfreq(large[0], cell)).astype(np.float32)[:, np.newaxis]
    k_x = (longest * np.fft.rfftfreq(large[1], cell)).astype(np.float32)
    strength = (1 + (k_y**2 + k_x**2)) ** np.float32(-roughness / 2)
    field = scipy.fft.irfft2(scipy.fft.rfft2(white) * strength, large, overwrite_x=True)
    field = field[: shape[0], : shape[1]]
    return ((field - field.mean()) / field.std()).astype(np.float32)
