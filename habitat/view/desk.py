"""Where a visitor's work is done: beside the page, one piece at a time, told step by step, and stopped on request."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import panel as pn
import param

from habitat.site_map import SiteMap
from habitat.view.bench import Bench
from layers.step import OnStep, Step

Wish = Callable[[Bench, OnStep], Bench]  # or of whatever else the desk holds
PAUSE = 0.4  # a live wish waits so long for the next, which takes its place [s]
STOPPED = "Stopped. What stands on this page is as it was before."
BUSY = "One thing at a time: wait for it, or press Stop first."
BROKEN = "The software itself failed at this, which is not your doing. What stands on this page is as it was before."
_TURN = threading.Lock()  # of all visitors: two at once would only make each other slow


class Stopped(Exception):
    """The visitor wants no more of this piece of work."""


@dataclass(frozen=True, kw_only=True)
class Work:
    """What is going on, or what came of the last wish."""

    doing: str = ""  # what is being worked out
    step: str = ""  # the step it is at
    trouble: str = ""  # what stood in its way, for the visitor to mend
    note: str = ""  # what else he should know
    told: tuple[Step, ...] = ()  # every step so far


class Desk(param.Parameterized):
    """Holds the bench and the drawing of one visitor, and does his work.

    On another page than that of proposals something else lies on it: one immutable value of its own.
    """

    bench = param.Parameter()
    work = param.ClassSelector(class_=Work)
    failed = param.Integer(doc="How many wishes came to nothing; what was dragged for one goes back to its place.")
    drawing = param.Parameter(default=(), doc="Tuple of `habitat.view.drawing.Drawn`.")

    def __init__(self, site_map: SiteMap, bench: object = None):
        super().__init__(bench=Bench() if bench is None else bench, work=Work())
        self.site_map = site_map
        self._halt = threading.Event()
        self._live = False

    def do(self, doing: str, wish: Wish, *, live: bool = False) -> None:
        """Replace the bench by `wish(bench, on_step)`; what stands in the way is said, and the bench stays.

        A live wish follows a shape as it is drawn or dragged, and takes the place of the live wish before it.
        """
        if self.work.doing and not (live and self._live):
            self.work = replace(self.work, note=BUSY, trouble="")
            self.failed += 1
            return
        self._halt.set()
        self._halt, self._live = threading.Event(), live
        halt, bench, document = self._halt, self.bench, pn.state.curdoc
        self.work = Work(doing=doing)
        if document is None or document.session_context is None:
            self._finish(halt, *_tried(wish, bench, lambda step: None))
            return

        def tell(step: Step) -> None:
            if halt.is_set():
                raise Stopped
            document.add_next_tick_callback(partial(self._say, halt, step))

        def work() -> None:
            if live and halt.wait(PAUSE):
                return
            with _TURN:
                found, ending = _tried(wish, bench, tell)
            if not document.session_context.destroyed:
                document.add_next_tick_callback(partial(self._finish, halt, found, ending))

        threading.Thread(target=work).start()

    def stop(self) -> None:
        """Stop at the next step; the page is free at once, and what comes of the work is thrown away."""
        if self.work.doing:
            self._halt.set()
            self.work = Work(note=STOPPED)
            self.failed += 1

    def refuse(self, trouble: str) -> None:
        """Say what stands in the way of a wish that was not even begun."""
        self.work = replace(self.work, trouble=trouble, note="")

    def _say(self, halt: threading.Event, step: Step) -> None:
        if halt is self._halt and not halt.is_set():
            label = step.label if step.of == 1 else str(step)
            self.work = Work(doing=self.work.doing, step=label, note=self.work.note, told=(*self.work.told, step))

    def _finish(self, halt: threading.Event, bench: Bench, ending: Work) -> None:
        if halt is self._halt and not halt.is_set():
            # first the bench: whoever sees that the work is done sees what came of it
            self.bench, self.work = bench, ending
            if ending != Work():
                self.failed += 1


def _tried(wish: Wish, bench: Bench, on_step: OnStep) -> tuple[Bench, Work]:
    try:
        return wish(bench, on_step), Work()
    except Stopped:
        return bench, Work(note=STOPPED)
    except ValueError as error:  # what a person can mend; FaultyFileError is one
        return bench, Work(trouble=str(error))
    except Exception:
        import traceback

        traceback.print_exc()  # for the log of the server; the visitor keeps his page
        return bench, Work(trouble=BROKEN)
