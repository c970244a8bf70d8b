"""The record that a visitor reviews: opened with care, made again on request, and what he wrote to it.

A record that is uploaded comes from anybody. It is held in a folder of its own until the visitor is gone, and of the
site whose pages these are it is given no file but those that may be shown.
"""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import param

from habitat.record_archive import refuse
from habitat.record_file import Record, open_record
from habitat.reproduce import TOLERANCE, Reproduction, reproduce
from habitat.review_comments import Comment, comments_beside, read_comments
from habitat.site_map import PROFILE_FILE, SiteMap
from habitat.view.desk import Desk, Work
from layers.fault import FaultyFileError
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.report.review import MapComparison

LARGEST = "60MB"  # of an upload
MOST_CELLS = 4_000_000  # of a grid that a page makes again; a larger one is for the command line
MOST_RECORDS = 50  # of a folder that are offered
_SUFFIX = ".zip"


@dataclass(frozen=True, kw_only=True)
class Review:
    """A record and, once it was made again, what came of that."""

    record: Record | None = None
    made: Reproduction | None = field(default=None, repr=False)
    said: str = field(default="", repr=False)  # of the map made again, as the command line says it
    comparisons: tuple[MapComparison, ...] = field(default=(), repr=False)  # of each map of classes, recorded and now
    found_comments: tuple[Comment, ...] = ()  # that lay beside the record
    lies_with_site: bool = False  # whether the record lies in the folder of the site
    remarks: tuple[str, ...] = ()

    @property
    def is_due(self) -> bool:
        """Whether it is open and was never made again."""
        return self.record is not None and self.made is None


class ReviewDesk(Desk):
    """A desk with a `Review` on it, and the visitor's own comments beside it."""

    comments = param.Parameter(default=(), doc="Tuple of Comment, of the record that is open.")

    def __init__(self, site_map: SiteMap):
        super().__init__(site_map, Review())

    def clear(self) -> None:
        """Take back what was said of a wish that is mended now."""
        if not self.work.doing:
            self.work = Work()


def opened_upload(files: Mapping[str, bytes | str], review: Review, on_step: OnStep = ignore) -> Review:
    """A review of an uploaded record; errors as of `open_record`."""
    name, held = next(reversed(files.items()))
    on_step(Step(1, 1, f"checking every member of {Path(name).name}"))
    room = Path(tempfile.mkdtemp(prefix="review-"))
    path = room / (Path(name.replace("\\", "/")).name or f"record{_SUFFIX}")
    try:
        path.write_bytes(held.encode() if isinstance(held, str) else held)
        opened = Review(record=_opened(path))
    except BaseException:
        shutil.rmtree(room, ignore_errors=True)
        raise
    # the archive is read from the disk as long as anybody looks at the record
    weakref.finalize(opened.record, shutil.rmtree, room, True)
    return opened


def opened_from_site(path: Path, review: Review, on_step: OnStep = ignore) -> Review:
    """A review of a record in the folder of the site, with the comments that lie beside it."""
    on_step(Step(1, 1, f"checking every member of {path.name}"))
    record = _opened(path)
    comments, remarks = [], []
    for one in comments_beside(record):
        try:
            comments += read_comments(one, record)
        except FaultyFileError as error:
            remarks.append(str(error))
    return Review(
        record=record,
        found_comments=tuple(dict.fromkeys(comments)),
        lies_with_site=True,
        remarks=tuple(remarks),
    )


def site_records(site_map: SiteMap) -> dict[str, Path]:
    """Records in the folder of the site or one folder below, by their place in it."""
    folder = site_map.inputs.site.path.parent
    found = sorted({*folder.glob(f"*record*{_SUFFIX}"), *folder.glob(f"*/*record*{_SUFFIX}")})
    own = {entry.path for entry in site_map.inputs.site.files}
    return {path.relative_to(folder).as_posix(): path for path in found[:MOST_RECORDS] if path not in own}


def made_again(
    desk: ReviewDesk,
    review: Review,
    on_step: OnStep = ignore,
    *,
    with_site_files: bool = False,
    profile: object = None,
    tolerance: float = TOLERANCE,
) -> Review:
    """The review with the map of its record made again.

    Parameters
    ----------
    with_site_files : bool
        Whether the files of the site whose pages these are take the place of those in the record. Its sightings and
        whatever else is sensitive are not among them.
    profile : path, name of a shipped profile or Profile, optional
        Another than the record's, on purpose.
    tolerance : float
        Largest difference of a score that counts as the same within tolerance. [1]
    """
    if review.record is None:
        raise ValueError("There is no record yet. Drop one first, or pick one.")
    if tolerance is None or not 0 <= tolerance <= 1:
        raise ValueError("The tolerance is a number from 0 to 1.")
    if not with_site_files:
        return _answered(review, reproduce(review.record, profile=profile, tolerance=tolerance, on_step=on_step))
    with tempfile.TemporaryDirectory() as workspace:
        room = Path(workspace)
        copy_shown_files(desk.site_map, room)
        made = reproduce(review.record, room, profile=profile, tolerance=tolerance, on_step=on_step)
    return _answered(review, made)


def copy_shown_files(site_map: SiteMap, room: Path) -> None:
    """Copy the site file, the profile and every file that is not sensitive into `room`."""
    from habitat.record_contents import companions

    site = site_map.inputs.site
    folder = site.path.parent
    held_back = {part for entry in site.files if entry.sensitive for part in companions(entry.path)}
    wanted = [site.path, folder / PROFILE_FILE]
    wanted += [part for entry in site.files if not entry.sensitive for part in companions(entry.path)]
    for path in wanted:
        if path.is_file() and path not in held_back and path.is_relative_to(folder):
            name = "site.toml" if path == site.path else path.relative_to(folder)
            (room / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, room / name)


def _answered(review: Review, made: Reproduction) -> Review:
    """The review with all that the page reads out of the record, so that a fault in it is told before it is shown."""
    from habitat.report.review import class_comparisons
    from habitat.reproduce_text import reproduction_text

    return replace(review, made=made, said=reproduction_text(made), comparisons=tuple(class_comparisons(made)))


def _opened(path: Path) -> Record:
    record = open_record(path)
    grid = record.table.grid
    if grid.rows * grid.columns > MOST_CELLS:
        said = f"its grid has {grid.rows * grid.columns:,} cells; this page makes {MOST_CELLS:,} at most."
        refuse(path, said, "Use `shallows reproduce` in a command line.")
    return record
