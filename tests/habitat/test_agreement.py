"""Two maps: disagreement in amounts and in places, and hectares from class to class."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from sklearn.metrics import cohen_kappa_score, confusion_matrix

from habitat.agreement import change_sentences, class_changes, disagreement, map_disagreement
from habitat.result import SUITABILITY_CLASSES
from tests.evidence import published

CODES = arrays(np.uint8, (4, 5), elements=st.integers(0, 3))


@published("map_disagreement.csv")
def test_disagreement_is_as_printed(row):
    found = disagreement([[float(cell) for cell in line.split()] for line in row.table.split(";")])
    assert (found.quantity, found.allocation) == pytest.approx((row.quantity, row.allocation), abs=1e-6)
    assert found.kappa == pytest.approx(row.kappa, abs=5e-6)


@given(CODES, CODES)
def test_changes_are_the_confusion_of_scikit_learn_and_the_parts_add_up(first, second):
    changes = class_changes(first, second, SUITABILITY_CLASSES, cell_hectares=0.25)
    counted = confusion_matrix(first.ravel(), second.ravel(), labels=[1, 2, 3, 0]) * 0.25
    counted[3, 3] = 0
    np.testing.assert_array_equal(changes.to_numpy(), counted)
    found = map_disagreement(changes)
    both = (first > 0) & (second > 0)
    if both.any():
        assert found.total == pytest.approx((first != second)[both].mean())
        kappa = cohen_kappa_score(first[both], second[both]) if len({*first[both], *second[both]}) > 1 else np.nan
        assert found.kappa == pytest.approx(kappa, nan_ok=True)


def test_the_same_amounts_elsewhere_are_all_allocation_and_more_of_one_is_all_quantity():
    maps = np.array([[1, 1, 3, 3]]), np.array([[3, 3, 1, 1]]), np.array([[3, 3, 3, 3]])
    moved, grown = (
        map_disagreement(class_changes(maps[0], other, SUITABILITY_CLASSES, cell_hectares=1)) for other in maps[1:]
    )
    assert (moved.quantity, moved.allocation) == (0, 1)
    assert (grown.quantity, grown.allocation) == (0.5, 0)
    assert "different places" in moved.sentences[0] and "different amounts" in grown.sentences[0]


def test_what_changed_is_said_and_cells_without_data_are_not_compared():
    first, second = np.array([[3, 3, 1, 0, 0]]), np.array([[1, 1, 0, 0, 2]])
    changes = class_changes(first, second, SUITABILITY_CLASSES, cell_hectares=4)
    assert change_sentences(changes) == (
        "8 ha went from good habitat to poor habitat.",
        "8 ha have a class on one of the two maps only, and cannot be compared.",
    )
    assert change_sentences(class_changes(first, first, SUITABILITY_CLASSES, cell_hectares=4)) == (
        "No cell changed its class.",
    )


def test_maps_with_nothing_in_common_have_no_agreement_rather_than_a_full_one():
    changes = class_changes(np.array([[1, 0]]), np.array([[0, 1]]), SUITABILITY_CLASSES, cell_hectares=1)
    assert np.isnan(map_disagreement(changes).total)
    assert "nothing can be said" in map_disagreement(changes).sentences[0]


def test_tables_and_maps_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="square"):
        disagreement([[1, 2]])
    with pytest.raises(ValueError, match="below 0"):
        disagreement([[1, -2], [0, 1]])
    with pytest.raises(ValueError, match="one grid"):
        class_changes(np.zeros((2, 2), np.uint8), np.zeros((1, 2), np.uint8), SUITABILITY_CLASSES, cell_hectares=1)
