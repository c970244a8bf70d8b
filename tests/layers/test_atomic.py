import os

import pytest

from layers.atomic import whole_file, whole_folder
from layers.fault import RecordError


def test_a_file_appears_under_its_name_only_when_the_block_ends(tmp_path):
    with whole_file(tmp_path / "a.txt") as unfinished:
        unfinished.write_text("half")
        assert not (tmp_path / "a.txt").exists()
        unfinished.write_text("whole")
    assert contents(tmp_path) == {"a.txt": "whole"}


@pytest.mark.parametrize("end", [ValueError, KeyboardInterrupt])
def test_a_failure_or_a_stop_leaves_no_trace_of_a_file(tmp_path, end):
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(end), whole_file(tmp_path / "a.txt", replace=True) as unfinished:
        unfinished.write_text("half")
        raise end
    assert contents(tmp_path) == {"a.txt": "old"}


def test_an_existing_file_is_replaced_only_when_asked(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    with (
        pytest.raises(RecordError) as refusal,
        whole_file(tmp_path / "a.txt") as unfinished,
    ):
        unfinished.write_text("new")
    assert str(refusal.value) == ("a.txt: 1 problem\n  a.txt: exists already. Choose another name, or move it away.")
    assert contents(tmp_path) == {"a.txt": "old"}
    with whole_file(tmp_path / "a.txt", replace=True) as unfinished:
        unfinished.write_text("new")
    assert contents(tmp_path) == {"a.txt": "new"}


def test_a_file_in_a_folder_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(RecordError) as refusal, whole_file(tmp_path / "nowhere" / "a.txt"):
        pass
    assert str(refusal.value) == "a.txt: 1 problem\n  nowhere: there is no such folder. Make it first."


def test_the_name_of_an_unfinished_file_keeps_the_ending_that_drivers_go_by(tmp_path):
    with whole_file(tmp_path / "a.tif") as unfinished:
        assert unfinished.suffix == ".tif"
        unfinished.touch()


@pytest.mark.parametrize("end", [ValueError, KeyboardInterrupt])
def test_a_failure_or_a_stop_leaves_no_trace_of_a_folder(tmp_path, end):
    with pytest.raises(end), whole_folder(tmp_path / "results") as unfinished:
        (unfinished / "a.txt").write_text("half")
        raise end
    assert contents(tmp_path) == {}


def test_a_run_that_is_killed_leaves_a_folder_that_says_it_is_unfinished(tmp_path):
    child = os.fork()
    if child == 0:
        with whole_folder(tmp_path / "results") as unfinished:
            (unfinished / "a.txt").write_text("half")
            os._exit(9)
    os.waitpid(child, 0)
    assert [path.name for path in tmp_path.iterdir()] == [f"results.unfinished-{child}"]


def test_an_old_folder_keeps_its_place_until_the_new_one_is_complete(tmp_path):
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "old.txt").write_text("old")
    with pytest.raises(ValueError), whole_folder(tmp_path / "results", replace=True):
        raise ValueError
    assert contents(tmp_path) == {"results/old.txt": "old"}
    with whole_folder(tmp_path / "results", replace=True) as unfinished:
        (unfinished / "new.txt").write_text("new")
        assert (tmp_path / "results" / "old.txt").exists()
    assert contents(tmp_path) == {"results/new.txt": "new"}


def contents(folder):
    return {path.relative_to(folder).as_posix(): path.read_text() for path in folder.rglob("*") if path.is_file()}
