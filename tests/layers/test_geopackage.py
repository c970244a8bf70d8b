import sqlite3
import xml.etree.ElementTree as ElementTree
from contextlib import closing

import geopandas as gpd
import pytest
from shapely import box

from layers.fault import RecordError
from layers.geopackage import write_geopackage
from layers.style import class_style, outline_style

NAMESPACES = {
    "sld": "http://www.opengis.net/sld",
    "se": "http://www.opengis.net/se",
    "ogc": "http://www.opengis.net/ogc",
}


@pytest.fixture
def tables():
    zones = gpd.GeoDataFrame(
        {"name": ["Northern bay", "Båt & net"], "hectares": [1.5, 2.0]},
        geometry=[box(500_000, 7_770_000, 500_100, 7_770_150), box(500_100, 7_770_000, 500_300, 7_770_100)],
        crs="EPSG:32745",
    )
    classes = zones.rename(columns={"name": "class"})
    return {"zones": zones, "classes": classes}


@pytest.fixture
def styles():
    return {
        "zones": outline_style("zones", "#1d2529"),
        "classes": class_style("classes", "class", {"Northern bay": "#ff0000", "Båt & net": "#00ff00"}),
    }


def test_tables_come_back_with_projection_and_values(tables, styles, tmp_path):
    write_geopackage(tables, tmp_path / "zones.gpkg", styles=styles)
    back = gpd.read_file(tmp_path / "zones.gpkg", layer="zones")
    assert back.crs.to_epsg() == 32745
    assert back["name"].tolist() == tables["zones"]["name"].tolist()
    assert back.geometry.geom_equals(tables["zones"].geometry).all()


def test_the_styles_lie_where_desktop_programs_look(tables, styles, tmp_path):
    write_geopackage(tables, tmp_path / "zones.gpkg", styles=styles)
    with closing(sqlite3.connect(tmp_path / "zones.gpkg")) as database:
        rows = database.execute(
            "SELECT f_table_name, f_geometry_column, styleSLD, useAsDefault FROM layer_styles ORDER BY id"
        ).fetchall()
        listed = database.execute("SELECT data_type FROM gpkg_contents WHERE table_name = 'layer_styles'").fetchall()
    assert [(name, column, default) for name, column, _, default in rows] == [
        ("zones", "geom", 1),
        ("classes", "geom", 1),
    ]
    assert listed == [("attributes",)]
    style = ElementTree.fromstring(rows[1][2].encode())
    assert style.get("version") == "1.1.0"
    rules = style.findall(".//se:Rule", NAMESPACES)
    seen = {
        rule.findtext(".//ogc:Literal", None, NAMESPACES): rule.findtext(".//se:Fill/se:SvgParameter", None, NAMESPACES)
        for rule in rules
    }
    assert seen == {"Northern bay": "#ff0000", "Båt & net": "#00ff00"}


def test_descriptions_are_kept(tables, tmp_path):
    write_geopackage(tables, tmp_path / "zones.gpkg", descriptions={"zones": "Zones of the plan, CC BY 4.0"})
    with closing(sqlite3.connect(tmp_path / "zones.gpkg")) as database:
        found = dict(database.execute("SELECT table_name, description FROM gpkg_contents"))
    assert found == {"zones": "Zones of the plan, CC BY 4.0", "classes": ""}


def test_the_same_tables_give_the_same_bytes(tables, styles, tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_geopackage(tables, tmp_path / name / "zones.gpkg", styles=styles)
    assert (tmp_path / "one" / "zones.gpkg").read_bytes() == (tmp_path / "two" / "zones.gpkg").read_bytes()


def test_the_database_is_sound(tables, styles, tmp_path):
    write_geopackage(tables, tmp_path / "zones.gpkg", styles=styles)
    with closing(sqlite3.connect(tmp_path / "zones.gpkg")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        assert database.execute("PRAGMA application_id").fetchone() == (0x47504B47,)  # "GPKG", OGC 12-128r15 req. 2
    assert [path.name for path in tmp_path.iterdir()] == ["zones.gpkg"]


def test_an_existing_file_is_not_overwritten(tables, tmp_path):
    (tmp_path / "zones.gpkg").write_text("mine")
    with pytest.raises(RecordError, match=r"zones\.gpkg: exists already\."):
        write_geopackage(tables, tmp_path / "zones.gpkg")
    assert (tmp_path / "zones.gpkg").read_text() == "mine"


def test_neither_how_often_it_was_written_nor_what_was_taken_out_is_left_in_the_file(tables, tmp_path):
    write_geopackage(tables, tmp_path / "once.gpkg")
    with closing(sqlite3.connect(tmp_path / "once.gpkg")) as database:
        assert database.execute("PRAGMA freelist_count").fetchone() == (0,)
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    head = (tmp_path / "once.gpkg").read_bytes()[:100]
    assert (head[24:28], head[92:96]) == (b"\0\0\0\1", b"\0\0\0\1")
