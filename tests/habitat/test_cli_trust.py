"""The commands on trust, as their user runs them, on a small whole site."""

import pytest

from habitat.cli import main
from habitat.site_evidence import NO_SIGHTINGS, WITHHELD
from tests.sites import TABLES, site_text, write_small_site


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return write_small_site(tmp_path_factory.mktemp("trust") / "site").parent


@pytest.fixture(scope="module")
def doubted(site):
    """What `doubt` wrote, and how it ended."""
    folder = site.parent / "sure"
    return folder, main(["doubt", str(site), "--draws", "16", "--seed", "7", "--out", str(folder)])


def test_doubt_prints_ranges_ranking_and_what_is_exact_and_writes_the_same(doubted, site, capsys):
    folder, ended = doubted
    assert ended == 0
    assert main(["doubt", str(site), "--draws", "16", "--seed", "7"]) == 0
    told = capsys.readouterr()
    assert told.out == (folder / "README.txt").read_text("utf-8")
    for words in (
        "16 draws, seed 7",
        "nine draws in ten lie between",
        "What the hectares depend on:",
        "taken as exact",
    ):
        assert words in told.out
    assert "scoring 1,200 cells 16 times" in told.err
    assert (folder / "conclusions.csv").is_file() and (folder / "chance_good_wet.tif").is_file()


def test_a_folder_that_is_there_is_refused_before_the_site_is_read(doubted, capsys):
    folder, _ = doubted
    assert main(["doubt", "no such site", "--out", str(folder)]) == 2
    assert "--out" in (said := capsys.readouterr().err) and "exists already" in said
    assert main(["doubt", "no such site", "--out", str(folder / "none" / "deep")]) == 2
    assert "there is no folder" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["doubt", "site", "--draws", "0"], "is not a number of draws"),
        (["doubt", "site", "--seed", "-1"], "--seed"),
        (["agreement", "site", "--block", "0"], "is not a length in metres above 0"),
        (["agreement", "site", "--date", "yesterday"], "is not a date"),
    ],
)
def test_a_slip_in_an_option_is_told_and_nothing_is_read(words, said, capsys):
    assert main(words) == 2
    assert said in capsys.readouterr().err


def test_agreement_prints_sentences_without_figures_of_few_sightings(site, capsys):
    assert main(["agreement", str(site), "--draws", "50", "--date", "2026-01-31"]) == 0
    told = capsys.readouterr()
    assert "2 sightings and 0 records of looking and seeing none can be used." in told.out
    assert WITHHELD in told.out and "checking the sightings" in told.err
    assert main(["agreement", str(site), "--date", "2020-01-31"]) == 2
    assert "dated after 2020-01-31" in capsys.readouterr().err


def test_agreement_says_so_where_there_are_no_sightings(tmp_path, capsys):
    path = write_small_site(tmp_path / "site")
    path.write_text(site_text({name: keys for name, keys in TABLES.items() if name != "seen"}), encoding="utf-8")
    assert main(["agreement", str(path)]) == 0
    assert capsys.readouterr().out == f"{NO_SIGHTINGS}\n"
