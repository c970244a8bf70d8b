"""Weights from comparisons two by two: published matrices, closed forms, and matrices drawn by lot."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.pairwise import (
    ALONSO_LAMATA,
    RANDOM_INDEX,
    comparison_matrix,
    consistency,
    eigenvector_weights,
    joint_matrix,
    odd_judgement,
)
from tests.evidence import published

SCALE = [1 / 9, 1 / 7, 1 / 5, 1 / 3, 1 / 2, 1, 2, 3, 5, 7, 9]
WEIGHTS = st.lists(st.floats(0.05, 1), min_size=3, max_size=7).map(np.array)


def of_upper(values):
    count = round((1 + np.sqrt(1 + 8 * len(values))) / 2)
    matrix = np.ones((count, count))
    matrix[np.triu_indices(count, 1)] = values
    lower = np.tril_indices(count, -1)
    matrix[lower] = 1 / matrix.T[lower]
    return matrix


@published("pairwise_weights.csv")
def test_weights_and_consistency_are_as_printed(row):
    matrix = of_upper([float(Fraction(part)) for part in row.upper.split()])
    weights, largest = eigenvector_weights(matrix)
    told = consistency(matrix)
    assert told.ratio == pytest.approx(row.ratio, abs=5e-4)
    assert told.is_acceptable == (row.ratio <= 0.1)
    if row.weights:
        assert weights == pytest.approx([float(part) for part in row.weights.split()], abs=row.digits)
        assert largest == pytest.approx(row.lambda_max, abs=1e-5)


def test_it_is_the_eigenvector_and_not_the_mean_of_columns():
    # the normalised columns of the matrix of three average to .63335 .26050 .10616, another method's answer
    weights = eigenvector_weights(of_upper([3, 5, 3]))[0]
    columns = (of_upper([3, 5, 3]) / of_upper([3, 5, 3]).sum(axis=0)).mean(axis=1)
    assert columns == pytest.approx([0.63335, 0.26050, 0.10616], abs=1e-5)
    assert abs(weights - columns).max() > 2e-3


def test_the_ratio_depends_on_the_table_and_names_it():
    matrix = of_upper([3, 5, 3])
    ours, theirs = consistency(matrix), consistency(matrix, table=ALONSO_LAMATA)
    assert ours.ratio == pytest.approx(0.019256 / 0.58, abs=1e-5)
    assert theirs.ratio == pytest.approx(0.019256 / 0.5245, abs=1e-5)
    assert "0.58, Saaty 1980" in str(ours) and "0.5245, Alonso and Lamata 2006" in str(theirs)
    with pytest.raises(ValueError, match="ends at 7"):
        consistency(np.ones((8, 8)), table=ALONSO_LAMATA)
    with pytest.raises(ValueError, match="not known"):
        consistency(matrix, table="Somebody")


@pytest.mark.parametrize("count", [3, 4, 5])
def test_the_random_index_is_that_of_answers_drawn_by_lot(count):
    # 4000 matrices from the scale 1/9 to 9, each number as likely as the next
    scale = np.array([*range(1, 10), *(1 / value for value in range(2, 10))])
    random = np.random.default_rng(count)
    matrices = np.ones((4000, count, count))
    for row, column in zip(*np.triu_indices(count, 1), strict=True):
        drawn = random.choice(scale, 4000)
        matrices[:, row, column], matrices[:, column, row] = drawn, 1 / drawn
    largest = np.linalg.eigvals(matrices).real.max(axis=1)
    index = ((largest - count) / (count - 1)).mean()
    assert index == pytest.approx(RANDOM_INDEX[ALONSO_LAMATA][count], abs=0.04)
    assert index == pytest.approx(RANDOM_INDEX["Saaty 1980"][count], abs=0.1)  # an older, smaller simulation


@given(WEIGHTS)
def test_judgements_made_from_weights_give_them_back_and_contradict_nothing(weights):
    matrix = weights[:, None] / weights[None, :]
    found, largest = eigenvector_weights(matrix)
    assert found == pytest.approx(weights / weights.sum(), rel=1e-6)
    assert largest == pytest.approx(len(weights), abs=1e-6) and consistency(matrix).ratio == pytest.approx(0, abs=1e-6)


@given(WEIGHTS.filter(lambda weights: len(weights) > 3), st.data())
def test_one_slip_is_found_and_the_value_that_fits_is_the_true_one(weights, data):
    matrix = weights[:, None] / weights[None, :]
    row, column = data.draw(st.sampled_from(list(zip(*np.triu_indices(len(weights), 1), strict=True))))
    true = matrix[row, column]
    matrix[row, column] *= 6
    matrix[column, row] /= 6
    odd = odd_judgement(matrix, [str(number) for number in range(len(weights))])
    assert (odd.first, odd.second) == (str(row), str(column)) and odd.is_alone
    assert odd.fitting == pytest.approx(true) and odd.ratio_then == pytest.approx(0, abs=1e-6)


def test_of_three_any_may_be_the_slip_and_of_consistent_answers_none_is():
    odd = odd_judgement(of_upper([3, 1 / 5, 3]), "abc")
    assert not odd.is_alone and "any of them may be the slip" in str(odd)
    assert odd_judgement(of_upper([2, 4, 2]), "abc") is None
    assert odd_judgement(np.ones((2, 2)), "ab") is None and consistency([[1, 5], [0.2, 1]]).ratio == 0


@given(st.lists(st.lists(st.sampled_from(SCALE), min_size=6, max_size=6), min_size=2, max_size=4))
def test_a_group_of_reciprocal_matrices_is_reciprocal_and_its_order_does_not_matter(upper):
    matrices = [of_upper(part) for part in upper]
    joint = joint_matrix(matrices)
    np.testing.assert_allclose(joint * joint.T, 1)
    np.testing.assert_allclose(joint, joint_matrix(matrices[::-1]))
    assert joint[0, 1] == pytest.approx(np.prod([part[0] for part in upper]) ** (1 / len(upper)))


def test_judgements_that_are_no_whole_set_are_refused():
    pairs = {("a", "b"): 2.0, ("c", "a"): 3.0}
    with pytest.raises(ValueError, match="b, c: the pair is missing"):
        comparison_matrix(pairs, "abc")
    with pytest.raises(ValueError, match="given twice"):
        comparison_matrix({**pairs, ("b", "a"): 1.0}, "abc")
    with pytest.raises(ValueError, match="reciprocal"):
        eigenvector_weights([[1, 2], [2, 1]])
    whole = comparison_matrix({**pairs, ("b", "c"): 4.0}, "abc")
    assert whole[0, 2] == pytest.approx(1 / 3) and whole[2, 1] == 0.25
