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
# a tally holds the count of missing factors in its lowest byte, and above it what each of these adds up to
REFUSED, DRY_TALLY, VETO = 0x100, 0x10000, 0x20000

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
    block = np.empty(BLOCK, np.float64)
    for first in range(start, stop, BLOCK):
        last = min(first + BLOCK, stop)
        # slices, here and below: an index that starts at 0 is one the compiler can put in wide registers
        value, code, index, out = values[first:last], surface[first:last], block[: last - first], result[first:last]
        if _is_all_dry(code):
            for i in range(len(out)):
                out[i] = np.float32(np.nan)
            continue
        for i in range(len(value)):
            index[i] = floor
        for k in range(len(starts)):
            begin, anchor, height, slope = starts[k], anchors[k], heights[k], slopes[k]
            for i in range(len(value)):
                here = np.float64(value[i])
                index[i] = height + (here - anchor) * slope if here >= begin else index[i]
        for i in range(len(value)):
            here = index[i]
            bounded = max(min(here, 1.0), 0.0) if here == here else np.nan
            is_known = (value[i] == value[i]) & (code[i] >= DRY)
            out[i] = np.float32(bounded) if is_known else np.float32(np.nan)


@kernel
def fade_cells(values, surface, start, stop, full, reach, end, shape, result):
    """Write the exposure that fades with distance; NaN on dry cells and where the distance is NaN."""
    value, code, out = values[start:stop], surface[start:stop], result[start:stop]
    for i in range(len(value)):
        distance = np.float64(value[i])
        t = min(max((distance - full) / (reach - full), 0.0), 1.0)
        exposure = 1 - t
        if shape == 1:
            exposure = np.exp(np.log(0.05) * t)
        elif shape == 2:
            exposure = np.exp(-(3 * t) * (3 * t) / 2)
        exposure = 0.0 if distance >= end else exposure
        is_known = (distance == distance) & (code[i] >= DRY)
        out[i] = np.float32(exposure) if is_known else np.float32(np.nan)


@kernel
def suitability_cells(
    indices, rows, weights, vetoes, essential, rule, may_lack, surface, start, stop, score, limiting, missing
):
    """Write score, limiting factor and count of missing factors.

    `indices` holds one row of cells for each factor and season, `rows` says which of them to read, in canonical
    order. `score` is NaN, `limiting` 0 where there is no score, and `missing` 0 on dry cells.
    """
    totals, weights_present = np.empty(BLOCK, np.float64), np.empty(BLOCK, np.float64)
    lowests, means = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    tallies, numbers = np.empty(BLOCK, np.int32), np.empty(BLOCK, np.int32)
    allowed = np.int32(may_lack)
    for first in range(start, stop, BLOCK):
        last = min(first + BLOCK, stop)
        count = last - first
        total, weight_present, mean = totals[:count], weights_present[:count], means[:count]
        lowest, tally, held_by = lowests[:count], tallies[:count], numbers[:count]
        code, out, holder, lack = surface[first:last], score[first:last], limiting[first:last], missing[first:last]
        if _is_all_dry(code):
            for i in range(count):
                out[i], holder[i], lack[i] = np.float32(np.nan), np.uint8(0), np.uint8(0)
            continue
        for i in range(count):
            total[i], weight_present[i], lowest[i] = 0.0, 0.0, np.float32(1)
            tally[i], held_by[i] = np.int32(0), np.int32(0)
        for f in range(len(rows)):
            index = indices[rows[f], first:last]
            if rule == GEOMETRIC:
                _add_logarithm(index, weights[f], mean, total)
            else:
                _add_index(index, weights[f], total)
            _add_weight(index, weights[f], weight_present)
            _add_missing(index, essential[f], tally)
            _lower(index, np.int32(f + 1), weights[f] > 0, vetoes[f], lowest, held_by, tally)
        _divide(total, weight_present, tally)
        if rule == GEOMETRIC:
            _raise_two(total, lowest, mean)
        elif rule == ARITHMETIC:
            for i in range(count):
                mean[i] = np.float32(min(total[i], 1.0))
        else:
            for i in range(count):
                mean[i] = lowest[i]
        # a dry cell lacks every factor; from here on its tally is past what any profile allows
        for i in range(count):
            tally[i] |= np.int32(DRY_TALLY) if code[i] < DRY else np.int32(0)
        for i in range(count):
            lacking, value, number = tally[i], mean[i], held_by[i]
            value = np.float32(0) if lacking >= VETO else value
            is_known = np.int32(lacking & np.int32(0x1FFFF)) <= allowed
            out[i] = value if is_known else np.float32(np.nan)
            held_by[i] = number if is_known else np.int32(0)
        for i in range(count):
            lacking = tally[i]
            tally[i] = lacking if np.int32(lacking & np.int32(DRY_TALLY)) == 0 else np.int32(0)
        for i in range(count):
            holder[i], lack[i] = np.uint8(held_by[i]), np.uint8(tally[i])


@kernel
def threat_cells(exposures, rows, weights, may_lack, surface, start, stop, threat, missing):
    """Write the combined threat and the count of missing pressures. `rows` as for `suitability_cells`."""
    spares, tallies = np.empty(BLOCK, np.float64), np.empty(BLOCK, np.int32)
    for first in range(start, stop, BLOCK):
        last = min(first + BLOCK, stop)
        spared, tally = spares[: last - first], tallies[: last - first]
        code, out, lack = surface[first:last], threat[first:last], missing[first:last]
        if _is_all_dry(code):
            for i in range(len(out)):
                out[i], lack[i] = np.float32(np.nan), np.uint8(0)
            continue
        for i in range(len(out)):
            spared[i], tally[i] = 1.0, np.int32(0)
        for p in range(len(rows)):
            exposure, weight = exposures[rows[p], first:last], weights[p]
            for i in range(len(exposure)):
                here = exposure[i]
                spared[i] *= 1.0 - weight * np.float64(here) if here == here else 1.0
            for i in range(len(exposure)):
                here = exposure[i]
                tally[i] += np.int32(here != here)
        for i in range(len(out)):
            count, is_wet = tally[i], code[i] >= DRY
            is_known = is_wet & (count <= may_lack) & (count < len(rows))
            out[i] = np.float32(1.0 - spared[i]) if is_known else np.float32(np.nan)
            lack[i] = np.uint8(count) if is_wet else np.uint8(0)


@kernel
def class_cells(
    suitability, suitability_breaks, threat, threat_breaks, start, stop, suitability_class, threat_class, concern
):
    """Write both classes and how they read together; 0 where the score is NaN."""
    good, pressed, first = suitability[start:stop], threat[start:stop], suitability_class[start:stop]
    second, both = threat_class[start:stop], concern[start:stop]
    fair_from, good_from = suitability_breaks
    moderate_from, high_from = threat_breaks
    for i in range(len(good)):
        # a NaN fails all three comparisons and stays 0
        s, t = good[i], pressed[i]
        a = np.int32(s >= 0) + np.int32(s >= fair_from) + np.int32(s >= good_from)
        b = np.int32(t >= 0) + np.int32(t >= moderate_from) + np.int32(t >= high_from)
        first[i], second[i] = np.uint8(a), np.uint8(b)
        both[i] = np.uint8(3 * a + b - 3) if (a > 0) & (b > 0) else np.uint8(0)


@kernel
def _is_all_dry(code):
    wet = np.int32(0)
    for i in range(len(code)):
        wet += np.int32(code[i] >= DRY)
    return wet == 0


@kernel
def _add_index(index, weight, total):
    for i in range(len(index)):
        here = index[i]
        total[i] += weight * np.float64(here) if here == here else 0.0


@kernel
def _add_logarithm(index, weight, mantissa, total):
    """Add `weight` times log2 of each index to `total`; what it adds for 0 is finite and of no account."""
    bits, mantissa_bits = index.view(np.int32), mantissa.view(np.int32)
    for i in range(len(index)):
        exponent = np.int32(np.int32(bits[i] - _ROOT_HALF) >> np.int32(23))
        mantissa_bits[i] = np.int32(bits[i] - np.int32(exponent << np.int32(23)))
    for i in range(len(index)):
        exponent = np.int32(np.int32(bits[i] - _ROOT_HALF) >> np.int32(23))
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
        logarithm = p * t + np.float32(exponent)
        here = index[i]
        mantissa[i] = logarithm if here == here else np.float32(0)
    for i in range(len(index)):  # a loop of its own: numbers of two widths in one take twice as long
        total[i] += weight * np.float64(mantissa[i])


@kernel
def _add_weight(index, weight, weight_present):
    for i in range(len(index)):
        here = index[i]
        weight_present[i] += weight if here == here else 0.0


@kernel
def _add_missing(index, is_essential, tally):
    amount = np.int32(1 + REFUSED) if is_essential else np.int32(1)
    for i in range(len(index)):
        here = index[i]
        tally[i] += amount if here != here else np.int32(0)


@kernel
def _lower(index, number, has_weight, is_veto, lowest, held_by, tally):
    """Lower the lowest index and say which factor it is.

    A factor of no weight cannot limit, but it can veto.
    """
    if has_weight:
        for i in range(len(index)):
            here, low, holder = index[i], lowest[i], held_by[i]
            held_by[i] = number if here < low else holder
            lowest[i] = here if here < low else low
    if is_veto:
        for i in range(len(index)):
            here, low, holder = index[i], lowest[i], held_by[i]
            held_by[i] = number if (here == 0) & (low > 0) else holder
            lowest[i] = np.float32(0) if here == 0 else low
            tally[i] += np.int32(VETO) if here == 0 else np.int32(0)


@kernel
def _divide(total, weight_present, tally):
    """Divide by the weights present; refuse cells that have none."""
    for i in range(len(total)):
        weight = weight_present[i]
        tally[i] += np.int32(REFUSED) if weight == 0 else np.int32(0)
        weight_present[i] = weight if weight > 0 else 1.0
    np.divide(total, weight_present, total)


@kernel
def _raise_two(power, lowest, result):
    """Write 2 ** `power`, never above 1 nor below the `lowest` index, and 0 where that is 0."""
    bits = result.view(np.int32)
    for i in range(len(power)):
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
    for i in range(len(power)):
        bits[i] = np.int32(bits[i] + np.int32(np.int32(power[i]) << np.int32(23)))
    for i in range(len(power)):
        mean, low = result[i], lowest[i]
        mean = low if mean < low else mean
        mean = np.float32(1) if mean > 1 else mean
        result[i] = np.float32(0) if low == 0 else mean
