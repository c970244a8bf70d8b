"""Strips cover every row once, results keep their order, faults come through."""

import sys
import threading

import pytest

from layers import threads


@pytest.mark.parametrize(("rows", "height"), [(1, 256), (256, 256), (257, 256), (10, 3), (0, 4)])
def test_strips_cover_each_row_once_and_in_order(rows, height):
    covered = [row for strip in threads.strips(rows, height) for row in range(rows)[strip]]
    assert covered == list(range(rows))
    assert all(0 < strip.stop - strip.start <= height for strip in threads.strips(rows, height))


@pytest.mark.parametrize("workers", [1, 2, 5, None])
def test_every_strip_is_run_once_whatever_the_number_of_threads(workers):
    done = []
    threads.run_in_strips(lambda strip: done.append((strip.start, strip.stop)), 10, workers=workers, height=4)
    assert sorted(done) == [(0, 4), (4, 8), (8, 10)]


@pytest.mark.parametrize("workers", [1, 3])
def test_results_come_in_the_order_of_the_items(workers):
    gate = threading.Event()

    def wait_for_the_second(item):
        if item == 1:
            gate.set()
        elif item == 0 and workers > 1:
            assert gate.wait(10)  # the second is ready before the first
        return item * item

    assert list(threads.results_in_order(wait_for_the_second, range(6), workers=workers)) == [0, 1, 4, 9, 16, 25]


def test_no_more_results_are_held_than_threads_and_one():
    begun = []
    results = threads.results_in_order(lambda item: begun.append(item), range(100), workers=2)
    next(results)
    assert len(begun) <= 3
    results.close()
    assert len(begun) <= 4


@pytest.mark.parametrize("workers", [1, 2])
def test_a_fault_in_a_strip_reaches_the_caller(workers):
    def fail(strip):
        raise ZeroDivisionError(strip.start)

    with pytest.raises(ZeroDivisionError, match=r"^0$"):
        threads.run_in_strips(fail, 10, workers=workers, height=5)


def test_refusals():
    with pytest.raises(ValueError, match=r"^workers: found 0\. At least 1 is needed\.$"):
        threads.workers_or_default(0)
    with pytest.raises(ValueError, match=r"^height: found 0\. At least 1 row is needed\.$"):
        threads.strips(5, 0)


def test_a_kernel_still_works_where_nothing_can_be_kept_on_disk(monkeypatch):
    from numba import njit
    from numba.core import caching

    for found in vars(caching).values():
        if hasattr(found, "_locator_classes"):
            monkeypatch.setattr(found, "_locator_classes", [])
    with pytest.raises(RuntimeError, match="no locator available"):
        njit(cache=True)(lambda number: number + 1)
    assert threads.kernel(lambda number: number + 1)(2) == 3


def test_the_module_needs_nothing_but_the_standard_library():
    imported = {name.split(".")[0] for name in vars(threads)} & {"numpy", "numba"}
    assert imported == set()
    assert threads.__name__ in sys.modules
