"""Hostile and damaged records: each refused in one sentence, and nothing written anywhere."""

import hashlib
import io
import os
import stat
import zipfile
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat import record_archive
from habitat.record import write_record
from habitat.record_archive import open_archive
from habitat.record_file import open_record
from habitat.record_members import MOST_RATIO, RATIO_FROM, write_members
from habitat.record_toml import DEEPEST, MOST_TEXT_BYTES, parsed
from habitat.site_map import map_site
from layers.fault import RecordError
from tests.records import edited, members, sealed, write_brief_site, written

HELD = {"README.txt": b"a record", "site.toml": b"format = 1\n"}


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    folder = tmp_path_factory.mktemp("record")
    write_record(folder / "record.zip", map_site(write_brief_site(folder / "small")), date="2026-03-05")
    return folder / "record.zip"


@pytest.fixture(scope="module")
def content(record):
    return members(record)


def refusal(path: Path, opened=open_archive) -> str:
    """What is said of the file, after a look that nothing was written beside it."""
    before = sorted(path.parent.rglob("*"))
    with pytest.raises(RecordError) as error:
        opened(path)
    assert sorted(path.parent.rglob("*")) == before
    (fault,) = error.value.faults
    assert fault.found.count(". ") == 0, "one sentence"
    return fault.found


def test_a_plain_record_is_opened(tmp_path):
    path = sealed(tmp_path / "record.zip", HELD)
    archive = open_archive(path)
    assert archive.digests == {name: hashlib.sha256(held).hexdigest() for name, held in HELD.items()}
    assert archive.read("README.txt") == b"a record"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("../out.txt", "has a name that leads out of the folder"),
        ("inputs/../../out.txt", "has a name that leads out of the folder"),
        ("/etc/cron.d/out", "has a name that leads out of the folder"),
        ("C:/out.txt", "has a name that leads out of the folder"),
        ("C:out.txt", "has a name that leads out of the folder"),
        ("inputs//out.txt", "has a name that leads out of the folder"),
        ("inputs/ /out.txt", "has a name that leads out of the folder"),
        ("..\\out.txt", "has a name that cannot be a file's"),
        ("in\nputs", "has a name that cannot be a file's"),
        ("in\0puts", "has a name that cannot be a file's"),
        ("n" * 300, "has a name that cannot be a file's"),
        ("inputs/", "is a link or a folder, and no file"),
    ],
)
def test_names_that_lead_out_are_refused(tmp_path, name, said):
    info = zipfile.ZipInfo("placeholder")
    info.filename = name
    with zipfile.ZipFile(tmp_path / "record.zip", "w") as archive:
        archive.writestr(info, b"")
    assert refusal(tmp_path / "record.zip").endswith(f"{said}.")


def test_a_link_is_refused(tmp_path):
    info = zipfile.ZipInfo("inputs/bed.tif")
    info.create_system, info.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(tmp_path / "record.zip", "w") as archive:
        archive.writestr(info, "/etc/passwd")
    assert refusal(tmp_path / "record.zip") == "the member inputs/bed.tif is a link or a folder, and no file."


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_doubled_names_and_names_that_differ_by_case_are_refused(tmp_path):
    for first, second, said in (
        ("site.toml", "site.toml", "the member site.toml stands in it twice."),
        ("site.toml", "Site.TOML", "the member Site.TOML differs from site.toml by case only."),
        ("a/caf\u00e9", "a/cafe\u0301", "the member a/cafe\\u0301 differs from a/caf\u00e9 by case only."),
        ("inputs", "inputs/bed.tif", "inputs is a file in it and a folder too."),
    ):
        with zipfile.ZipFile(tmp_path / "record.zip", "w") as archive:
            archive.writestr(first, b"1")
            archive.writestr(second, b"2")
        assert refusal(tmp_path / "record.zip") == said


def test_a_bomb_is_refused_by_its_ratio_before_anything_is_unpacked(tmp_path):
    with zipfile.ZipFile(tmp_path / "record.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb", bytes(8 * RATIO_FROM))
    assert refusal(tmp_path / "record.zip") == f"the member bomb would unpack to more than {MOST_RATIO} times its size."


def test_too_much_altogether_is_refused_by_what_the_file_declares(tmp_path, monkeypatch):
    monkeypatch.setattr(record_archive, "MOST_BYTES", 1000)
    path = sealed(tmp_path / "record.zip", {"one": bytes(600), "two": bytes(600)})
    assert refusal(path).startswith("it would unpack to 1,3")


def test_ten_thousand_members_are_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "record.zip", "w") as archive:
        for number in range(10_000):
            archive.writestr(f"{number}", b"")
    assert refusal(tmp_path / "record.zip") == "it holds 10,000 members; a record has 2,000 at most."


def test_an_encrypted_member_and_a_name_that_is_not_utf_8_are_refused(tmp_path):
    whole = sealed(tmp_path / "record.zip", {"caf_": b"1"}).read_bytes()
    place = whole.index(b"PK\x01\x02")  # central directory: APPNOTE 4.3.12, flags at offset 8, name at 46
    flagged = bytearray(whole)
    flagged[place + 8] |= 1
    (tmp_path / "record.zip").write_bytes(flagged)
    assert refusal(tmp_path / "record.zip") == "the member caf_ is encrypted."
    latin = whole.replace(b"caf_", b"caf\xe9")
    (tmp_path / "record.zip").write_bytes(latin)
    assert refusal(tmp_path / "record.zip").endswith("has a name that is not UTF-8.")
    marked = bytearray(latin)
    marked[place + 9] |= 0x08  # says UTF-8, and is not
    (tmp_path / "record.zip").write_bytes(marked)
    assert refusal(tmp_path / "record.zip") == "it is no whole zip file, or a part of it is damaged."


def test_a_cut_file_and_one_that_is_no_zip_are_refused(record, tmp_path):
    whole = record.read_bytes()
    for size in (0, 1, 100, len(whole) // 2, len(whole) - 1):
        (tmp_path / "record.zip").write_bytes(whole[:size])
        assert refusal(tmp_path / "record.zip") == "it is no whole zip file, or a part of it is damaged."
    (tmp_path / "record.zip").write_text("{}")
    assert refusal(tmp_path / "record.zip") == "it is no whole zip file, or a part of it is damaged."
    assert refusal(tmp_path) == "there is no such file."


def test_a_member_more_or_less_than_the_list_is_refused(tmp_path):
    whole = members(sealed(tmp_path / "record.zip", HELD))
    written(tmp_path / "record.zip", {**whole, "extra.txt": b"x"})
    assert refusal(tmp_path / "record.zip") == "extra.txt is in the file and not in the list of members."
    written(tmp_path / "record.zip", {name: held for name, held in whole.items() if name != "site.toml"})
    assert refusal(tmp_path / "record.zip") == "site.toml is in the list of members and not in the file."
    written(tmp_path / "record.zip", {**whole, "members.sha256": b"no digest\n"})
    assert refusal(tmp_path / "record.zip") == "members.sha256, line 1, is not a digest and a name."
    written(tmp_path / "record.zip", HELD)
    assert refusal(tmp_path / "record.zip") == "it holds no members.sha256, so it is no record."


def test_a_renamed_member_is_named(content, tmp_path):
    changed = {("inputs/Tide.csv" if name == "inputs/tide.csv" else name): held for name, held in content.items()}
    assert refusal(written(tmp_path / "r.zip", changed)) == (
        "inputs/tide.csv is in the list of members and not in the file."
    )


@given(st.data())
def test_one_bit_of_any_member_is_found_and_the_member_named(content, tmp_path_factory, data):
    name = data.draw(st.sampled_from(sorted(set(content) - {"members.sha256", "made.toml"})))
    place = data.draw(st.integers(0, len(content[name]) - 1))
    changed = bytearray(content[name])
    changed[place] ^= 1 << data.draw(st.integers(0, 7))
    path = tmp_path_factory.getbasetemp() / f"bit-{os.getpid()}.zip"
    written(path, {**content, name: bytes(changed)})
    with pytest.raises(RecordError) as error:
        open_archive(path)
    assert error.value.faults[0].found == f"{name} is not what the list of members says: it was changed."


def test_every_member_is_covered_by_the_list_and_every_line_of_the_list_matters(content, tmp_path):
    root = open_archive(written(tmp_path / "plain.zip", content)).root
    for name in sorted(set(content) - {"members.sha256", "made.toml"}):
        changed = bytearray(content[name])
        changed[-1] ^= 1
        written(tmp_path / "bit.zip", {**content, name: bytes(changed)})
        assert refusal(tmp_path / "bit.zip") == f"{name} is not what the list of members says: it was changed."
        # whoever seals it again gets another digest
        assert open_archive(sealed(tmp_path / "bit.zip", {**content, name: bytes(changed)})).root != root
        (tmp_path / "bit.zip").unlink()


@given(st.binary(max_size=400))
def test_whatever_the_bytes_nothing_but_a_refusal_comes_of_them(tmp_path_factory, noise):
    path = tmp_path_factory.getbasetemp() / f"noise-{os.getpid()}.zip"
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("members.sha256", noise)
    place = len(noise) and noise[0]
    for attempt in (noise, held.getvalue()[:place] + noise + held.getvalue()[place:]):
        path.write_bytes(attempt)
        # an empty list in a whole zip file is an empty record
        with pytest.raises(RecordError) if noise.strip() else suppress(RecordError):
            open_archive(path)


def test_a_text_that_is_too_long_too_deep_or_no_toml_is_refused(tmp_path):
    def said(text: bytes) -> str:
        with pytest.raises(RecordError) as error:
            parsed(tmp_path / "r.zip", "site.toml", text)
        return error.value.faults[0].found

    deep = f"site.toml nests tables and lists more than {DEEPEST} deep."
    assert said(b"a = " + b"[" * 5000 + b"]" * 5000) == deep
    assert said(b"a = " + b"{a = " * 5000 + b"1" + b"}" * 5000) == deep
    assert said(b".".join([b"a"] * 5000) + b" = 1") == deep
    assert said(b"[" + b".".join([b'"a"'] * 5000) + b"]") == deep
    assert said(b"#" * (MOST_TEXT_BYTES + 1)) == f"site.toml is longer than {MOST_TEXT_BYTES:,} bytes."
    assert said(b"a = \xff") == "site.toml is not text in UTF-8."
    assert said(b"a = ") == "site.toml is not TOML."
    # quotation marks that mean to hide what follows: escaped ones, and more than three at an end
    brackets = b"[" * 5000 + b"]" * 5000
    assert said(b'a = """ \\""" """\nb = ' + brackets) == deep
    assert said(b"a = ''' ''''\nb = " + brackets) == deep
    assert said(b'a = """ """"\nb = ' + brackets + b'\nc = """ """') == deep
    # what would keep a careless scanner or parser busy for hours
    for busy in (b'\\"""\n', b"a", b"a.", b'"', b"'", b'"""\\', b"a ="):
        assert said(busy * (MOST_TEXT_BYTES // len(busy))) in (deep, "site.toml is not TOML.")
    fits = b"a = " + b"[" * DEEPEST + b"]" * DEEPEST + b'\nb = "' + b"[" * 99 + b'" # ' + b"{" * 99
    assert set(parsed(tmp_path / "r.zip", "site.toml", fits)) == {"a", "b"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("format = 2", "format = 3"), "it is of format 3, and this version reads format 2: a newer Shallows made it."),
        (
            ("format = 2", "format = 1"),
            "it is of format 1: it holds digests alone: the inputs, the steps of every layer and the cells are "
            "missing, so nothing can be made again from it or compared with it.",
        ),
        (("format = 2", 'format = "two"'), "record.toml does not say its format."),
        (("rows = 30", "rows = 300000000"), "its grid has 12,000,000,000 cells, too many."),
        (("title", "titel"), "there is no such key."),
    ],
)
def test_other_formats_and_shapes_are_told(record, tmp_path, change, said):
    path = edited(record, tmp_path / "r.zip", "record.toml", lambda text: text.replace(*change, 1))
    assert refusal(path, open_record) == said


def test_a_folder_of_an_older_version_says_what_its_record_lacks(tmp_path):
    (tmp_path / "record.json").write_text('{"format": 1}')
    assert "the cells are missing" in refusal(tmp_path, open_record)
    assert "the cells are missing" in refusal(tmp_path / "record.json", open_record)
    (tmp_path / "record.json").write_text("[" * 100_000)
    assert refusal(tmp_path, open_record) == "record.json is no record that can be read."


def test_cells_that_are_not_those_told_of_are_refused_and_no_other_driver_reads_them(record, content, tmp_path):
    pointer = b'<VRTDataset rasterXSize="40" rasterYSize="30"><VRTRasterBand dataType="Float32" band="1"/></VRTDataset>'
    swapped = {
        "results/threat.tif": (content["results/suitability.tif"], "does not hold the cells that record.toml tells of"),
        "layers/surface.tif": (pointer, "cannot be read"),
    }
    for name, (held, said) in swapped.items():
        opened = open_record(sealed(tmp_path / "r.zip", {**content, name: held}))
        told = next(one for one in (*opened.table.steps, *opened.table.results) if one.raster == name)
        with pytest.raises(RecordError) as error:
            opened.cells(told)
        assert error.value.faults[0].found == f"{name} {said}."


def test_what_the_writer_writes_is_never_taken_for_a_bomb(tmp_path):
    flat = b"-9999 " * 1_000_000
    write_members(tmp_path / "r.zip", {"inputs/flat.asc": flat}, {}, replace=False)
    assert open_archive(tmp_path / "r.zip").read("inputs/flat.asc") == flat
