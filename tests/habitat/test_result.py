import re

import pytest

from habitat import result
from layers.quantity import LAYERS

LIMITING = result.limiting_factor(("water_depth", "salinity"))
CODED = (result.SUITABILITY_CLASS, result.THREAT_CLASS, result.CONCERN, LIMITING)


@pytest.mark.parametrize("quantity", CODED, ids=lambda quantity: quantity.name)
def test_code_0_is_no_data_or_none_and_every_word_may_stand_in_a_cf_flag(quantity):
    assert quantity.categories[0] in ("no data", "none")
    # CF conventions 1.11, section 3.5: a flag meaning holds letters, digits and _ - . + @
    for word in quantity.categories:
        assert re.fullmatch(r"[A-Za-z0-9_\-.+@]+", word.replace(" ", "_"))


def test_each_part_of_a_result_has_a_name_of_its_own():
    assert result.index_quantity("shelter", "fetch").name == "index_shelter"
    assert result.index_quantity("shelter", "fetch").label == f"suitability index of {LAYERS['fetch'].label}"
    assert result.exposure_quantity("nets", "net_distance").name == "exposure_nets"


def test_there_are_nine_concern_classes_beside_no_data():
    assert len(set(result.CONCERN_CLASSES)) == len(result.CONCERN_READINGS) == 10
