"""A site with many faults tells all of them in one round; one that was only saved oddly has none."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused, run
from tests.refusals.spoiling import all_of, cut, edited, removed, site

SPOILED = all_of(
    site("[5, 6, 7, 8, 9, 10]", "[5, 6, 7, 8, 9]"),
    site('title = "Small site"', 'titel = "Small site"'),
    site('units = "m"\npositive = "up"', 'units = "fathoms deep"\npositive = "up"'),
    cut("site/coast.gpkg", 0.5),
    edited("site/tide.csv", "M2,0.5,10.0", "M2,,north"),
    edited("site/wind.csv", "270,0.1", "270,-0.1"),
    edited("site/jetty.csv", "500525.0", "5.0"),
    removed("site/seagrass.gpkg"),
    site('file = "outlets.geojson"\ncolumn = "nitrogen"', 'file = "outlets.geojson"\ncolumn = "potassium"'),
    site('feeds = "net"', 'feeds = "nets"'),
    site('units = "1/day"\ndraft', 'units = "km/hour"\ndraft'),
)

REFUSALS = (
    Refusal(
        kind="a site with a fault in each of many files",
        tables=("coast", "bed", "tide", "wind", "jetty", "seagrass", "outlets", "nets", "ferry"),
        spoil=SPOILED,
        says=(
            "site.toml: 12 problems\n"
            "  seasons: of the months: 10 in no season. Each month, 1 to 12, must stand in one season.\n"
            "  titel: there is no such key. Did you mean `title`?\n"
            '  files.nets: nothing is fed by "nets". Did you mean "net"?\n'
            "  coast.gpkg: the file cannot be opened as a vector file: it is cut short, damaged, or of "
            "an unknown format. Copy it again, or export it as GeoPackage or GeoJSON.\n"
            '  files.bed.units: the unit "fathoms deep" is not known. Known units of length: m, ft, km, '
            "cm, mm, fathom, nautical_mile. Write one of these, or convert the file.\n"
            "  tide.csv, row 2, column amplitude: the row has no value. Fill it in, or remove the row.\n"
            '  tide.csv, row 2, column phase: the row holds text that is not a number: "north". Write a '
            "number, or remove the row.\n"
            "  wind.csv, column share: a share is -0.1. Write a share of the time, 0 or more.\n"
            "  jetty.csv: the file does not overlap the site. The file covers longitude 82.221 to "
            "82.221, latitude -20.098 to -20.098; the site covers longitude 87.000 to 87.019, latitude "
            "-20.167 to -20.154. Check the CRS and the coordinates of the file, and the bounds of the grid.\n"
            '  files.seagrass.file: there is no file "seagrass.gpkg". Correct the name or add the file. '
            "Files of that kind there: coast.gpkg, ferry.gpkg, mangrove.gpkg, nets.gpkg, road.gpkg.\n"
            '  files.outlets.column: outlets.geojson has no column "potassium". Columns there: nitrogen, phosphorus.\n'
            '  files.ferry.units: "km/hour" is not a unit of number in a time. Known units of number in '
            "a time: 1/day, 1/week, 1/year. Write one of these, or convert the file.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_every_fault_is_told_at_once(refusal, outcome):
    assert_refused(refusal, outcome)
    assert refusal.says.startswith("site.toml: 12 problems\n")


def test_a_byte_order_mark_and_line_ends_of_windows_are_no_fault(whole_site, tmp_path):
    folder = tmp_path / "site"
    folder.mkdir()
    for path in whole_site.iterdir():
        content = path.read_bytes()
        if path.suffix in (".csv", ".toml"):
            content = b"\xef\xbb\xbf" + content.replace(b"\n", b"\r\n")
        (folder / path.name).write_bytes(content)
    outcome = run(tmp_path, "check", "site")
    assert outcome.said == ""
    assert outcome.code == 0
    assert outcome.stdout.startswith("Small site (invented): no fault found.\n")
    assert outcome.after == outcome.before
