import pytest

from layers.fault import LayerError
from layers.published_table import RANGE, SEEN, SHIPPED, read_published_table, shipped_table

CITATION = "# Nobody (1999), Loads of a made-up catchment, Table 1\n"
HEAD = "cover,low,median,high,source,seen\n"


@pytest.fixture
def table(tmp_path):
    def written(text: str):
        path = tmp_path / "mine.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return written


@pytest.mark.parametrize("name", SHIPPED)
def test_every_table_that_ships_cites_its_source_and_tells_how_far_it_was_seen(name):
    found = shipped_table(name)
    assert found.citation
    assert {row["seen"] for row in found.rows} <= set(SEEN)
    for row in found.rows:
        values = [row[key] for key in RANGE if row.get(key) is not None]
        assert values == sorted(values)


def test_curve_numbers_that_ship_rise_from_sand_to_clay():
    for row in shipped_table("curve_number").rows:
        numbers = [row[group] for group in "ABCD"]
        assert numbers == sorted(numbers), row["cover"]
        assert 30 <= numbers[0] <= numbers[-1] <= 98


def test_pasture_and_open_space_have_the_same_curve_numbers_as_the_handbook_says():
    ground = shipped_table("curve_number")
    for condition in ("poor", "fair", "good"):
        pasture, lawn = ground.row(cover=f"pasture, {condition}"), ground.row(cover=f"open space, {condition}")
        assert [pasture[group] for group in "ABCD"] == [lawn[group] for group in "ABCD"]


def test_a_users_table_is_read_with_its_citation_and_empty_cells_stay_unknown(table):
    found = read_published_table(table(CITATION + HEAD + '"reef, dry",,0.5,2,Nobody 1999,seen\n'))
    assert found.citation == "Nobody (1999), Loads of a made-up catchment, Table 1"
    assert found.row(cover="reef, dry")["low"] is None
    assert found.row(cover="reef, dry")["high"] == 2.0


def test_a_row_that_is_not_there_or_there_twice_is_told_with_what_the_table_holds(table):
    found = read_published_table(table(CITATION + HEAD + "sand,,1,,N,seen\nsand,,2,,N,seen\n"))
    with pytest.raises(ValueError, match=r'mine.csv: no rows for cover "mud". The table holds: sand.'):
        found.row(cover="mud")
    with pytest.raises(ValueError, match='2 rows for cover "sand"'):
        found.row(cover="sand")


def test_a_table_that_does_not_ship_is_refused():
    with pytest.raises(ValueError, match=r'"soil" is not a table that ships. These do: curve_number'):
        shipped_table("soil")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + "sand,,1,,N,seen\n", "citation: The file does not say where its numbers come from."),
        ("# a paper\n" + HEAD + "sand,,1,,N,seen\n", "citation: The file does not say"),
        (CITATION + HEAD, "rows: There are none"),
        (CITATION + "cover,median\nsand,1\n", "column source: It is missing. Add it: the source of each row."),
        (CITATION + HEAD + "sand,,1,,,seen\n", "line 3: It names no source."),
        (CITATION + HEAD + "sand,,1,,N,trust me\n", '`seen` is "trust me". Write one of: seen, computed, from memory.'),
        (CITATION + HEAD + "sand,3,1,2,N,seen\n", "line 3: low, median, high do not rise."),
        (CITATION + HEAD + "sand,-3,1,2,N,seen\n", "A value is below 0."),
        (CITATION + HEAD + "sand,few,1,2,N,seen\n", "low, median, high are not all numbers."),
        (CITATION + HEAD + "reef, dry,,1,,N,seen\n", "line 3: It has 7 cells, the row of names 6. Quote a cell"),
    ],
)
def test_a_table_that_cannot_be_trusted_is_refused(table, text, words):
    with pytest.raises(LayerError) as refused:
        read_published_table(table(text))
    assert words in str(refused.value)


def test_all_faults_of_a_table_are_told_at_once(table):
    with pytest.raises(LayerError) as refused:
        read_published_table(table(HEAD + "sand,3,1,2,,seen\nmud,,1,,N,\n"))
    assert len(refused.value.faults) == 4


def test_a_file_that_is_not_there_or_not_text_is_told(tmp_path):
    with pytest.raises(LayerError, match="It cannot be read: No such file"):
        read_published_table(tmp_path / "none.csv")
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\x00\xd8")
    with pytest.raises(LayerError, match=r"It is not text in UTF-8."):
        read_published_table(tmp_path / "odd.csv")
