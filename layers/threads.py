"""Many cores without a second answer: strips of rows handed to threads that run serial compiled kernels.

Every kernel of the project is serial and lets other threads run while it works, so it can be called from a
pool, a page server or dask alike. Strips write to their own rows: the result does not depend on their number.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

STRIP_HEIGHT = 256


def kernel(function: Callable) -> Callable:
    """`function` compiled by numba: serial, free of the interpreter lock, kept on disk between runs.

    Only modules that are imported when their kernels are needed may use it, because it imports numba.

    Notes
    -----
    numba keeps compiled code beside the module or, where that cannot be written, in the user's cache folder
    (or in `NUMBA_CACHE_DIR`). Where none of them can be written the kernel is compiled anew in each process.
    No fast-math option is set: the same operations in the same order give the same bits.
    """
    from numba import njit

    try:
        return njit(nogil=True, cache=True)(function)
    except RuntimeError:  # numba: no folder to keep compiled code in
        return njit(nogil=True)(function)


def workers_or_default(workers: int | None) -> int:
    """Number of threads to use: `workers`, or as many as this process may use cores.

    Raises
    ------
    ValueError
        If `workers` is less than 1.

    Examples
    --------
    >>> workers_or_default(3)
    3
    """
    if workers is None:
        known = getattr(os, "sched_getaffinity", None)
        return len(known(0)) if known else os.cpu_count() or 1
    if workers < 1:
        raise ValueError(f"workers: found {workers}. At least 1 is needed.")
    return workers


def strips(rows: int, height: int = STRIP_HEIGHT) -> list[slice]:
    """Slices of at most `height` rows that cover `rows` rows from first to last.

    Examples
    --------
    >>> strips(5, 2)
    [slice(0, 2, None), slice(2, 4, None), slice(4, 5, None)]
    """
    if height < 1:
        raise ValueError(f"height: found {height}. At least 1 row is needed.")
    return [slice(start, min(start + height, rows)) for start in range(0, rows, height)]


def run_in_strips(
    function: Callable[[slice], object], rows: int, *, workers: int | None = None, height: int = STRIP_HEIGHT
) -> None:
    """Call `function` once for each strip of rows, several at a time.

    Parameters
    ----------
    function : callable
        Takes a slice of rows and writes these rows of its result, and no others.
    rows : int
        Number of rows of the grid.
    workers : int, optional
        Number of threads; by default one for each core.
    height : int
        Rows of a strip.
    """
    for _ in results_in_order(function, strips(rows, height), workers=workers):
        pass


def results_in_order(
    function: Callable[[Item], Result], items: Iterable[Item], *, workers: int | None = None
) -> Iterator[Result]:
    """Results of `function` for each of `items`, in their order, computed several at a time.

    No more than `workers` + 1 results are held at once, so memory does not grow with the number of items.
    """
    workers = workers_or_default(workers)
    if workers == 1:
        yield from map(function, items)
        return
    with ThreadPoolExecutor(workers) as pool:
        waiting: deque = deque()
        try:
            for item in items:
                waiting.append(pool.submit(function, item))
                if len(waiting) > workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for task in waiting:
                task.cancel()
