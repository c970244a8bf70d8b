import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from habitat.report.scale_bar import round_length


@given(st.floats(1, 1e6))
@example(math.nextafter(1000, 0))
@example(1000.0)
def test_the_length_is_round_and_at_least_four_tenths_of_the_room(longest):
    length = round_length(longest)
    assert 0.4 * longest <= length <= longest
    assert f"{length:.0e}"[0] in "125" and length == float(f"{length:.0e}")


@pytest.mark.parametrize(("longest", "length"), [(7_300, 5_000), (2_000, 2_000), (19, 10), (1_999, 1_000)])
def test_lengths_by_hand(longest, length):
    assert round_length(longest) == length
