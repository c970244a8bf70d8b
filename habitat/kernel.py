"""Compiled scoring of cells: the one family of kernels that decides every stored score.

Kernels are serial and work on the cells `start` to `stop` of flat arrays, so that threads, blocks and dask can
call them on any part of a grid and get the same bits. Inside, cells go through in short blocks that stay in the
nearest cache. `habitat.plain` says the same in numpy.

Traps these kernels are built round: a NaN fails every comparison and has to be put back by hand; 0 times the
logarithm of 0 is NaN, and a polynomial gives a finite logarithm of 0, so an index of 0 is looked for apart.
"""

from __future__ import annotations

import numpy as np

from layers.threads import kernel

BLOCK = 2048
DRY = 2  # surface codes below this (unknown, land) have no score

FADES = ("linear", "exponential", "gaussian")
GEOMETRIC, ARITHMETIC, LOWEST = range(3)

# log2(1 + t) / t for sqrt(1/2) <= 1 + t <= sqrt(2), and 2**t for |t| <= 1/2: our Chebyshev fits, error 3e-8, 3e-9
_LOG = np.array(
    [1.4426950, -0.72134745, 0.48091075, -0.36069328, 0.28790325, -0.23916988, 0.21607822, -0.20586188, 0.12310968],
    np.float32,
)
_EXP = np.array(
    [1.0, 0.69314721, 0.24022651, 0.055503272, 0.0096180567, 0.0013400428, 0.00015461445],
    np.float32,
)
_ROOT_HALF = np.int32(0x3F3504F3)  # bits of sqrt(1/2)


@kernel
def index_cells(values, surface, start, stop, floor, starts, anchors, heights, slopes, result):
    """Write the index of each value by the segments of a curve; NaN on dry cells and where the value is NaN."""
    index = np.empty(BLOCK, np.float64)
    for first in range(start, stop, BLOCK):
        count = min(BLOCK, stop - first)
        for i in range(count):
            index[i] = floor
        for k in range(len(starts)):
            begin, anchor, height, slope = starts[k], anchors[k], heights[k], slopes[k]
            for i in range(count):
                value = np.float64(values[first + i])
                index[i] = height + (value - anchor) * slope if value >= begin else index[i]
        for i in range(count):
            value = values[first + i]
            bounded = min(max(index[i], 0.0), 1.0) if index[i] == index[i] else np.nan
            is_known = (value == value) & (surface[first + i] >= DRY)
            result[first + i] = np.float32(bounded) if is_known else np.float32(np.nan)


@kernel
def fade_cells(values, surface, start, stop, full, reach, end, shape, result):
    """Write the exposure that fades with distance; NaN on dry cells and where the distance is NaN."""
    for i in range(start, stop):
        distance = np.float64(values[i])
        if distance != distance or surface[i] < DRY:
            result[i] = np.float32(np.nan)
        elif distance >= end:
            result[i] = np.float32(0)
        else:
            t = min(max((distance - full) / (reach - full), 0.0), 1.0)
            if shape == 0:
                result[i] = np.float32(1 - t)
            elif shape == 1:
                result[i] = np.float32(np.exp(np.log(0.05) * t))
            else:
                result[i] = np.float32(np.exp(-(3 * t) * (3 * t) / 2))


@kernel
def suitability_cells(
    indices, rows, weights, vetoes, essential, rule, may_lack, surface, start, stop, score, limiting, missing
):
    """Write score, limiting factor and count of missing factors.

    `indices` holds one row of cells for each factor and season, `rows` says which of them to read, in canonical
    order. `score` is NaN, `limiting` 0 where there is no score, and `missing` 0 on dry cells.
    """
    total, weight_present = np.empty(BLOCK, np.float64), np.empty(BLOCK, np.float64)
    lowest, mantissa = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    mantissa_bits = mantissa.view(np.int32)
    lacking, refused = np.empty(BLOCK, np.uint8), np.empty(BLOCK, np.uint8)
    bits = indices.view(np.int32)
    for first in range(start, stop, BLOCK):
        count = min(BLOCK, stop - first)
        for i in range(count):
            total[i] = weight_present[i] = 0.0
            lowest[i] = np.float32(1)
            lacking[i] = refused[i] = np.uint8(0)
            limiting[first + i] = np.uint8(0)
        for f in range(len(rows)):
            row, weight, is_veto, is_essential = rows[f], weights[f], vetoes[f], essential[f]
            if rule == GEOMETRIC:
                _add_logarithm(indices, bits, row, first, count, weight, mantissa, mantissa_bits, total)
            else:
                for i in range(count):
                    index = indices[row, first + i]
                    total[i] += weight * np.float64(index) if index == index else 0.0
            for i in range(count):
                index = indices[row, first + i]
                is_present = index == index
                weight_present[i] += weight if is_present else 0.0
                lacking[i] += np.uint8(0) if is_present else np.uint8(1)
                refused[i] |= np.uint8((not is_present) & is_essential)
            for i in range(count):
                index = indices[row, first + i]
                # a factor of no weight cannot limit, but it can veto
                holds_down = (index < lowest[i]) & ((weight > 0) | (is_veto & (index == 0)))
                lowest[i] = index if holds_down else lowest[i]
                limiting[first + i] = np.uint8(f + 1) if holds_down else limiting[first + i]
            if is_veto:
                for i in range(count):
                    refused[i] |= np.uint8(2) if indices[row, first + i] == 0 else np.uint8(0)
        for i in range(count):  # keep the division below free of zeros
            refused[i] |= np.uint8(1) if weight_present[i] == 0 else np.uint8(0)
            weight_present[i] = 1.0 if weight_present[i] == 0 else weight_present[i]
        np.divide(total[:count], weight_present[:count], total[:count])
        if rule == GEOMETRIC:
            _raise_two(total, count, mantissa, mantissa_bits, lowest)
        for i in range(count):
            value = lowest[i]
            if rule == GEOMETRIC:
                value = mantissa[i]
            elif rule == ARITHMETIC:
                value = np.float32(min(total[i], 1.0))
            is_dry = surface[first + i] < DRY
            is_known = (not is_dry) & (lacking[i] <= may_lack) & ((refused[i] & 1) == 0)
            value = np.float32(0) if refused[i] & 2 else value
            score[first + i] = value if is_known else np.float32(np.nan)
            limiting[first + i] = limiting[first + i] if is_known else np.uint8(0)
            missing[first + i] = np.uint8(0) if is_dry else lacking[i]


@kernel
def threat_cells(exposures, rows, weights, may_lack, surface, start, stop, threat, missing):
    """Write the combined threat and the count of missing pressures. `rows` as for `suitability_cells`."""
    spared, lacking = np.empty(BLOCK, np.float64), np.empty(BLOCK, np.uint8)
    for first in range(start, stop, BLOCK):
        count = min(BLOCK, stop - first)
        for i in range(count):
            spared[i] = 1.0
            lacking[i] = np.uint8(0)
        for p in range(len(rows)):
            row, weight = rows[p], weights[p]
            for i in range(count):
                exposure = exposures[row, first + i]
                is_present = exposure == exposure
                spared[i] *= 1.0 - weight * np.float64(exposure) if is_present else 1.0
                lacking[i] += np.uint8(0) if is_present else np.uint8(1)
        for i in range(count):
            is_dry = surface[first + i] < DRY
            is_known = (not is_dry) & (lacking[i] <= may_lack) & (lacking[i] < len(rows))
            threat[first + i] = np.float32(1.0 - spared[i]) if is_known else np.float32(np.nan)
            missing[first + i] = np.uint8(0) if is_dry else lacking[i]


@kernel
def class_cells(
    suitability, suitability_breaks, threat, threat_breaks, start, stop, suitability_class, threat_class, concern
):
    """Write both classes and how they read together; 0 where the score is NaN."""
    for i in range(start, stop):
        good, pressed = suitability[i], threat[i]
        first = np.uint8(1) + np.uint8(good >= suitability_breaks[0]) + np.uint8(good >= suitability_breaks[1])
        second = np.uint8(1) + np.uint8(pressed >= threat_breaks[0]) + np.uint8(pressed >= threat_breaks[1])
        first = np.uint8(first) if good == good else np.uint8(0)
        second = np.uint8(second) if pressed == pressed else np.uint8(0)
        suitability_class[i], threat_class[i] = first, second
        both = (first > 0) & (second > 0)
        concern[i] = np.uint8(3 * first + second - 3) if both else np.uint8(0)


@kernel
def _add_logarithm(indices, bits, row, first, count, weight, mantissa, mantissa_bits, total):
    """Add `weight` times log2 of each index to `total`; what it adds for 0 is finite and of no account."""
    for i in range(count):
        here = bits[row, first + i]
        exponent = np.int32(np.int32(here - _ROOT_HALF) >> np.int32(23))
        mantissa_bits[i] = np.int32(here - np.int32(exponent << np.int32(23)))
    for i in range(count):
        here = bits[row, first + i]
        exponent = np.int32(np.int32(here - _ROOT_HALF) >> np.int32(23))
        t = mantissa[i] - np.float32(1)
        p = _LOG[8]
        p = p * t + _LOG[7]
        p = p * t + _LOG[6]
        p = p * t + _LOG[5]
        p = p * t + _LOG[4]
        p = p * t + _LOG[3]
        p = p * t + _LOG[2]
        p = p * t + _LOG[1]
        p = p * t + _LOG[0]
        logarithm = np.float64(p * t + np.float32(exponent))
        index = indices[row, first + i]
        total[i] += weight * logarithm if index == index else 0.0


@kernel
def _raise_two(power, count, result, result_bits, lowest):
    """Write 2 ** `power`, never above 1 nor below the `lowest` index, and 0 where that is 0."""
    for i in range(count):
        bounded = max(power[i], -120.0)
        whole = np.floor(bounded + 0.5)
        t = np.float32(bounded - whole)
        p = _EXP[6]
        p = p * t + _EXP[5]
        p = p * t + _EXP[4]
        p = p * t + _EXP[3]
        p = p * t + _EXP[2]
        p = p * t + _EXP[1]
        result[i] = p * t + _EXP[0]
        power[i] = whole
    for i in range(count):
        result_bits[i] = np.int32(result_bits[i] + np.int32(np.int32(power[i]) << np.int32(23)))
    for i in range(count):
        mean = min(max(result[i], lowest[i]), np.float32(1))
        result[i] = np.float32(0) if lowest[i] == 0 else mean
