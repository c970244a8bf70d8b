"""Proposals read from files of every format, and what a person is told who has to mend one."""

from __future__ import annotations

import hashlib
import zipfile

import numpy as np
import pytest
from pyproj import Transformer
from pytest import approx
from shapely import force_3d
from shapely.affinity import translate
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, Polygon, box

from habitat import proposal_file
from habitat.proposal import additions_of, moved, proposal_of_features, read_proposal, with_changes
from layers.fault import ProposalError
from layers.inputs import read_inputs
from tests.proposals import (
    BOW,
    CHANNEL,
    DREDGED,
    MEADOW,
    MOORINGS,
    OUTFALL,
    PIPE,
    PLANTED,
    ROUTE,
    WAY,
    frame,
    write,
)
from tests.sites import degrees, write_small_site

KNOWN = (
    "Known kinds: dredged area, land claim, structure, outfall, land use, mangrove cleared, mangrove planted, "
    "seagrass cleared, seagrass planted, moorings, vessel route."
)
EQUIPMENT = (
    "cutter suction dredge, hopper dredge without overflow, hopper dredge in mud with intensive overflow, disposal "
    "through bottom doors in deep water, hydraulic dredge, mechanical dredge"
)


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    return read_inputs(write_small_site(tmp_path_factory.mktemp("site") / "site"))


def told(call) -> list[str]:
    """The faults of a refusal, a line each."""
    with pytest.raises(ProposalError) as refusal:
        call()
    head, *lines = str(refusal.value).split("\n")
    assert head == f"{refusal.value.document}: {len(lines)} problem{'s' if len(lines) > 1 else ''}"
    return [line.strip() for line in lines]


def faults_of(inputs, *features, crs="EPSG:32745"):
    return told(lambda: proposal_of_features("drawn", frame(*features, crs=crs), inputs))


def same(one, other):
    """Whether two proposals add the same to a site: shapes to a centimetre, numbers to the bit."""
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert (a.entry.feeds, a.entry.units, a.entry.season, a.entry.datum) == (
            b.entry.feeds, b.entry.units, b.entry.season, b.entry.datum
        )  # fmt: skip
        assert a.features.drop(columns=["geometry", "name"], errors="ignore").equals(
            b.features.drop(columns=["geometry", "name"], errors="ignore")
        )
        assert a.features.geometry.iloc[0].hausdorff_distance(b.features.geometry.iloc[0]) < 0.02


@pytest.mark.parametrize("suffix", [".geojson", ".zip", ".kml"])
def test_every_format_adds_the_same_to_a_site(tmp_path, inputs, suffix):
    features = [(DREDGED | {"season": "dry", "name": "north"}, CHANNEL), (PLANTED | {"years": 5.0}, MEADOW)]
    wanted = additions_of(read_proposal(write(tmp_path / "port.gpkg", *features), inputs), inputs)[0]
    found = additions_of(read_proposal(write(tmp_path / f"port{suffix}", *features), inputs), inputs)[0]
    assert [addition.entry.feeds for addition in wanted] == [
        "bed_change", "dredge_work", "dredging", "seagrass_change", "seagrass_change", "mangrove_change"
    ]  # fmt: skip
    same(wanted, found)


@pytest.mark.parametrize("suffix", [".geojson", ".kml"])
def test_points_lines_and_polygons_come_out_of_one_file(tmp_path, inputs, suffix):
    features = [(OUTFALL, PIPE), (ROUTE, WAY), (MOORINGS, PIPE), (DREDGED, CHANNEL)]
    read = read_proposal(write(tmp_path / f"port{suffix}", *features), inputs)
    assert [feature.label for feature in read.features] == [
        "outfall 1", "vessel route 1", "moorings 1", "dredged area 1"
    ]  # fmt: skip
    same(additions_of(read, inputs)[0], additions_of(proposal_of_features("x", frame(*features), inputs), inputs)[0])


def test_all_layers_of_a_geopackage_are_read_each_in_its_own_crs(tmp_path, inputs):
    path = write(tmp_path / "port.gpkg", (DREDGED, CHANNEL), layer="areas")
    there = frame((OUTFALL, PIPE), (OUTFALL, PIPE)).to_crs(3857)
    there.to_file(path, layer="pipes", mode="a", engine="pyogrio")
    read = read_proposal(path, inputs)
    assert [feature.label for feature in read.features] == ["dredged area 1", "outfall 1", "outfall 2"]
    assert read.features[1].shape.distance(PIPE) < 0.01
    assert read.digest == hashlib.sha256(path.read_bytes()).hexdigest()


def test_archives_are_read_as_people_pack_them(tmp_path, inputs):
    packed = write(tmp_path / "port.zip", (DREDGED, CHANNEL))
    with zipfile.ZipFile(packed) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}

    def pack(name, **files):
        with zipfile.ZipFile(tmp_path / name, "w") as archive:
            for member, content in files.items():
                archive.writestr(member, content)
        return tmp_path / name

    stray = {f"__MACOSX/plans/._{name}": b"\0\5\x16\7" for name in parts}
    folder = pack("folder.zip", **{f"plans/{name}": content for name, content in parts.items()}, **stray)
    assert [feature.label for feature in read_proposal(folder, inputs).features] == ["dredged area 1"]
    balloon = write(tmp_path / "port.kml", (DREDGED, CHANNEL)).read_bytes()
    assert len(read_proposal(pack("port.kmz", **{"doc.kml": balloon}), inputs).features) == 1
    torn = pack("torn.zip", **{name: content for name, content in parts.items() if not name.endswith(".shx")})
    assert told(lambda: read_proposal(torn, inputs)) == [
        "torn.zip: the shapefile port.shp lacks its .shx. Send all its files, best as one zip."
    ]
    letters = pack("letters.zip", **{"letter.txt": b"Dear planner"})
    assert told(lambda: read_proposal(letters, inputs)) == [
        "letters.zip: the archive holds no vector file; it holds letter.txt. Export it as GeoPackage, GeoJSON, KML or "
        "a zipped shapefile."
    ]


def test_kinds_columns_and_words_may_be_written_in_any_case(tmp_path, inputs):
    said = {" Kind": " Dredged_AREA "} | {
        column.upper(): value for column, value in DREDGED.items() if column != "kind"
    }
    said |= {"EQUIPMENT": "Cutter Suction Dredge", "Season": "DRY", "VOLUME_M3": "90000"}
    read = read_proposal(write(tmp_path / "port.gpkg", (said, CHANNEL)), inputs)
    assert read.features[0].attributes == {key: DREDGED[key] for key in DREDGED if key != "kind"} | {"season": "dry"}


def test_a_name_of_the_trade_stands_for_its_kind(inputs):
    read = proposal_of_features(
        "drawn", frame(({"kind": "quay", "bars": True}, box(500_500, 7_770_400, 500_600, 7_770_500))), inputs
    )
    assert read.features[0].kind == "structure" and read.features[0].get("bars") == "yes"


def test_heights_are_dropped_and_parts_kept(inputs):
    both = MultiPolygon(
        [box(501_100, 7_770_600, 501_150, 7_770_650, ccw=True), box(501_200, 7_770_600, 501_250, 7_770_650)]
    )
    high = Polygon([(x, y, 9.0) for x, y in CHANNEL.exterior.coords])
    read = proposal_of_features(
        "drawn", frame(({"kind": "seagrass cleared"}, both), ({"kind": "land claim"}, high)), inputs
    )
    assert not read.features[1].shape.has_z
    assert read.features[0].shape.area == approx(5000)


def test_heights_of_a_kml_are_dropped(tmp_path, inputs):
    path = write(tmp_path / "port.kml", ({"kind": "land claim"}, force_3d(CHANNEL, 12.0)))
    assert b",12" in path.read_bytes(), "planted: the file holds heights"
    (feature,) = read_proposal(path, inputs).features
    assert not feature.shape.has_z
    assert feature.shape.hausdorff_distance(CHANNEL) < 0.02


def test_each_fault_of_what_is_said_is_told_with_what_is_needed_and_its_unit(inputs):
    lines = faults_of(
        inputs,
        ({"kind": None}, CHANNEL),
        ({"kind": "dreged area"}, CHANNEL),
        ({"kind": "heliport"}, CHANNEL),
        (DREDGED | {"depth_m": None, "volume_m3": -5.0, "fines": 30.0, "rate_m3_h": "fast"}, CHANNEL),
        (DREDGED | {"equipment": "spoon", "season": "spring"}, CHANNEL),
        (DREDGED | {"equipment": None, "loss_share": 0.02}, CHANNEL),
        (DREDGED | {"measure": "silt curtain", "hours_day": 25.0}, CHANNEL),
        (DREDGED | {"volume_m3": 3e6}, CHANNEL),
        (OUTFALL | {"n_kg_year": None, "p_kg_year": -1.0, "season": "spring"}, PIPE),
        ({"kind": "structure", "bars": "perhaps"}, CHANNEL),
        ({"kind": "seagrass planted", "share": 0.0}, MEADOW),
        ({"kind": "vessel route", "trips_day": 5.0, "draft_m": 90.0}, WAY),
        ({"kind": "land use", "cover": "cane"}, CHANNEL),
    )  # fmt: skip
    assert lines == [
        f"drawn, feature 1, column kind: it holds nothing. Write what this is. {KNOWN}",
        f'drawn, feature 2, column kind: "dreged area" is not a kind of feature that is known. Did you mean "dredged '
        f'area"? {KNOWN}',
        f'drawn, feature 3, column kind: "heliport" is not a kind of feature that is known. {KNOWN}',
        "drawn, feature 4, column depth_m: nothing is given for the depth it is dug to, below the datum of the site's "
        "bed. Give a number of m, from -10 to 100.",
        "drawn, feature 4, column volume_m3: it holds -5. Give a number of m3, above 0, at most 1,000,000,000.",
        'drawn, feature 4, column rate_m3_h: it holds "fast", which is not a number. Give a number of m3/hour, above '
        "0, at most 100,000.",
        "drawn, feature 4, column fines: it holds 30. Give a share, from 0 to 1. It is a share of 1: 30 % is 0.3.",
        'drawn, feature 5, column season: "spring" is not a season of the site. Known seasons: wet, dry.',
        f'drawn, feature 5, column equipment: no share that is lost is known for "spoon". Name one of {EQUIPMENT}, or '
        "add columns loss_share and loss_src.",
        f"drawn, feature 6, column equipment: nothing is given for what digs. Name one of {EQUIPMENT}, or another with "
        "loss_share and loss_src.",
        "drawn, feature 6, column loss_src: a share that is lost is stated, and nothing says who found it. Name the "
        "source of loss_share.",
        "drawn, feature 7, column hours_day: it holds 25. Give a number of hour/day, above 0, at most 24.",
        'drawn, feature 7, column measure: the measure "silt curtain" is named, and nothing says how much of the loss '
        "it leaves. Give left_share, from 0 to 1, and its source as left_src, or leave the measure out.",
        "drawn, feature 8: 3,000,000 m3 take 600 days, no season is named, and the shortest has 181. Correct the "
        "volume, the rate or the hours, or split the work by season.",
        "drawn, feature 9, column n_kg_year: nothing is given for the nitrogen, as a year's rate while it works. Give "
        "a number of kg/year, from 0 to 1,000,000,000.",
        "drawn, feature 9, column p_kg_year: it holds -1. Give a number of kg/year, from 0 to 1,000,000,000.",
        'drawn, feature 9, column season: "spring" is not a season of the site. Known seasons: wet, dry.',
        'drawn, feature 10, column bars: it holds "perhaps". Write "yes" or "no".',
        "drawn, feature 11, column share: it holds 0. Give a share, above 0, at most 1.",
        "drawn, feature 12, column draft_m: it holds 90. Give a number of m, from 0 to 30.",
        "drawn, feature 13: the site has no map of land cover, so that no change of land use can be followed. Leave it "
        "out, or add the land cover of the catchment to the site file.",
    ]


def test_each_fault_of_a_shape_is_told_with_its_place(inputs):
    x, y = 501_100, 7_770_700  # where the lines of the bow cross, worked out by hand
    east, north = Transformer.from_crs("EPSG:32745", 4326, always_xy=True).transform(x, y)
    lines = faults_of(
        inputs,
        ({"kind": "land claim"}, None),
        ({"kind": "outfall", "n_kg_year": 1.0}, CHANNEL),
        ({"kind": "structure", "bars": "yes"}, PIPE),
        ({"kind": "moorings", "berths": 1, "trips_day": 1}, WAY),
        ({"kind": "land claim"}, BOW),
        ({"kind": "land claim"}, translate(CHANNEL, 3_000, 0)),
        (OUTFALL, Point(500_525, 7_600_000)),
        (OUTFALL, MultiPoint([PIPE, (501_000, 7_770_500)])),
        (OUTFALL, MultiPoint([PIPE])),
        (OUTFALL, Point(float("nan"), 7_770_500)),
    )
    assert lines == [
        "drawn, feature 1: it has no geometry. Draw it, or remove it.",
        "drawn, feature 2: an outfall is drawn as a point, and this is a polygon. Draw it as a point.",
        "drawn, feature 3: a structure is drawn as a line or a polygon, and this is a point. Draw it as a line or a "
        "polygon.",
        "drawn, feature 4: moorings are drawn as a point or a polygon, and this is a line. Draw it as a point or a "
        "polygon.",
        f"drawn, feature 5: its outline crosses itself at x {x}, y {y} (longitude {east:.5f}, latitude {north:.5f}). "
        "Draw it again there, or mend it in a GIS, which can mostly do so by itself.",
        "drawn, feature 6: it lies 2,100 m outside the site. Check its coordinates and their CRS, or remove it.",
        "drawn, feature 7: it lies 170 km outside the site. Check its coordinates and their CRS, or remove it.",
        "drawn, feature 8: an outfall is one point, and this holds 2. Make each a feature of its own, with its own "
        "load.",
        "drawn, feature 10: its coordinates cannot be brought into the projection of the site. Check its coordinates "
        "and their CRS, or remove it.",
    ]


def test_a_file_that_lies_apart_says_how_far(inputs):
    assert faults_of(inputs, (OUTFALL, translate(PIPE, 50_000, 0)), (ROUTE, translate(WAY, 0, -5_000))) == [
        "drawn, feature 1: it lies 48,525 m outside the site. Check its coordinates and their CRS, or remove it.",
        "drawn, feature 2: it lies 3,550 m outside the site. Check its coordinates and their CRS, or remove it.",
    ]


def test_an_outfall_far_from_the_water_and_digging_on_dry_land_are_refused(inputs):
    hill = box(500_050, 7_770_100, 500_150, 7_770_200)
    assert faults_of(inputs, (OUTFALL, Point(500_200, 7_770_700)), (DREDGED | {"depth_m": -5.0}, hill)) == [
        "drawn, outfall 1: no water lies within 150 m of it. Move it to the water it drains to.",
        "drawn, dredged area 1: no water lies in it, also once it is dug. Dig deeper, draw it where there is water, or "
        "make it at least a cell wide.",
    ]
    # a basin dug into the land brings the water to the pipe: the faults are told with all in place
    basin = box(500_150, 7_770_600, 500_500, 7_770_800)
    proposal_of_features("drawn", frame((OUTFALL, Point(500_200, 7_770_700)), (DREDGED, basin)), inputs)


def test_swapped_coordinates_are_told_for_the_whole_and_for_a_part(inputs):
    longitude, latitude = degrees(PIPE.x, PIPE.y)
    swapped, right = Point(latitude, longitude), Point(longitude, latitude)
    assert faults_of(inputs, (OUTFALL, swapped), crs="EPSG:4326") == [
        "drawn: longitude and latitude are swapped: with that mended, the file would lie in the site. Exchange them in "
        "the file; in a CSV, exchange the columns that `x` and `y` name."
    ]
    (line,) = faults_of(inputs, (OUTFALL, right), (OUTFALL, swapped), crs="EPSG:4326")
    assert line.startswith("drawn, feature 2: it lies ")
    assert line.endswith(
        " km outside the site. It seems that longitude and latitude are swapped: with that mended, it would lie in the "
        "site."
    )


def test_a_crs_is_needed_and_a_column_that_says_what_is_what(tmp_path, inputs):
    path = write(tmp_path / "port.gpkg", (DREDGED, CHANNEL), crs=None)
    assert told(lambda: read_proposal(path, inputs)) == [
        "port.gpkg: the file does not say in which CRS its coordinates are. Set it in a GIS and export the file again, "
        "or send it as GeoJSON in degrees."
    ]
    path = write(tmp_path / "plan.gpkg", ({"type": "channel"}, CHANNEL))
    assert told(lambda: read_proposal(path, inputs)) == [
        f"plan.gpkg: there is no column `kind`, which says what each feature is. Add it. {KNOWN}"
    ]


def test_files_that_are_no_vector_files_are_refused_unread(tmp_path, inputs, monkeypatch):
    (tmp_path / "empty.gpkg").write_bytes(b"")
    (tmp_path / "folder.gpkg").mkdir()
    (tmp_path / "text.geojson").write_text("these are not coordinates")
    whole = write(tmp_path / "whole.gpkg", (DREDGED, CHANNEL)).read_bytes()
    (tmp_path / "cut.gpkg").write_bytes(whole[: len(whole) // 3])
    (tmp_path / "cut.kml").write_bytes(write(tmp_path / "whole.kml", (DREDGED, CHANNEL)).read_bytes()[:900])
    (tmp_path / "none.geojson").write_text('{"type": "FeatureCollection", "features": []}')
    (tmp_path / "table.csv").write_text("kind,depth_m\ndredged area,3\n")
    unknown = "the file cannot be opened: it is cut short, damaged, or of an unknown format."
    export = "Export it as GeoPackage, GeoJSON, KML or a zipped shapefile."
    cut = "the file opens, but its features cannot all be read: it is cut short or damaged. Copy or export it again."
    for name, sentence in {
        "away.gpkg": "there is no such file. Correct the name.",
        "folder.gpkg": "this is a folder. Name a file in it.",
        "empty.gpkg": "the file is empty (0 bytes). Copy or export it again.",
        "text.geojson": f"{unknown} {export}",
        "none.geojson": "the file holds no features. Draw what is proposed, and export it again.",
        "table.csv": "no layer of the file has geometry. Export a layer that was drawn.",
    }.items():
        assert told(lambda name=name: read_proposal(tmp_path / name, inputs)) == [f"{name}: {sentence}"]
    for name in ("cut.gpkg", "cut.kml"):
        assert told(lambda name=name: read_proposal(tmp_path / name, inputs))[0] in (
            f"{name}: {unknown} {export}", f"{name}: {cut}"
        )  # fmt: skip


def test_a_file_too_large_is_refused_before_it_is_opened(tmp_path, inputs):
    path = tmp_path / "large.gpkg"
    with path.open("wb") as stream:
        stream.truncate(250_000_000)  # a hole: it takes no room on the disk
    assert told(lambda: read_proposal(path, inputs)) == [
        "large.gpkg: the file is 250 MB large, and 200 MB are the most that is read. Keep only the features of the "
        "proposal in it."
    ]
    packed = tmp_path / "packed.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("port.shp", bytes(201_000_000))
    assert packed.stat().st_size < 1_000_000
    assert "the file is 201 MB large" in told(lambda: read_proposal(packed, inputs))[0]


def test_a_shape_with_too_many_vertices_is_refused(inputs):
    turn = np.linspace(0, 2 * np.pi, 100_002)
    round_ = Polygon(np.column_stack([501_200 + 90 * np.cos(turn), 7_770_700 + 90 * np.sin(turn)]))
    vertices = len(round_.exterior.coords)
    assert vertices > proposal_file.MOST_VERTICES
    assert faults_of(inputs, ({"kind": "land claim"}, round_)) == [
        f"drawn: the shapes have {vertices:,} vertices, and 100,000 are the most that are taken. Simplify the "
        "outlines, for example to 1 m; a drawing needs no more."
    ]


def test_what_a_person_should_know_is_remarked(inputs):
    half_out = box(501_900, 7_770_000, 502_100, 7_770_100)  # half of its 2 ha lies east of the site
    said = DREDGED | {"volumes": 3.0, "_help": "x", "volume_m3": 20_000.0}
    read = proposal_of_features(
        "drawn", frame((said | {"depth_m": 9.0}, half_out), ({"kind": "structure", "bars": "no"}, WAY)), inputs
    )
    assert read.remarks == (
        "drawn: nothing is made of the columns volumes.",
        "dredged area 1: 50 % of it (1.00 ha) lies outside the site and is not counted.",
        "structure 1: it does not bar the water, so it changes nothing on the map. Draw what it clears, and where "
        "boats lie, as features of their own.",
    )
    # 0.5 ha of bed at -7.5 m goes down by 0.1 m, and 0.5 ha lie at -7.75 m: 500 m3, by hand
    read = proposal_of_features("drawn", frame((said | {"depth_m": 7.6, "volume_m3": 90_000.0}, half_out)), inputs)
    assert read.remarks[2:] == (
        "dredged area 1: 50 % of it is at least 7.6 m deep already and stays so.",
        "dredged area 1: 90,000 m3 are stated, and from the bed of the site down to 7.6 m it is 500 m3. Correct the "
        "one or the other, or know why they differ.",
    )


def test_variants_are_copies_moved_or_changed(inputs):
    read = proposal_of_features("drawn", frame((DREDGED, CHANNEL), (OUTFALL, PIPE)), inputs)
    channel = read.features[0]
    east = moved(channel, 100.0, -50.0)
    assert east.shape.equals(translate(CHANNEL, 100, -50)) and channel.shape.equals(CHANNEL)
    shallow = with_changes(channel, depth_m=4.0, season="dry", volume_m3=10_000)
    assert (shallow.get("depth_m"), shallow.get("season"), channel.get("depth_m")) == (4.0, "dry", 6.0)
    variant = read.with_features(moved(shallow, 100.0, 0.0))
    assert [feature.label for feature in variant.features] == ["dredged area 1", "outfall 1"]
    assert variant.digest != read.digest and read.features[0] is channel
    assert read.with_features(channel).digest == read.digest
    assert [feature.label for feature in read.without("outfall 1").features] == ["dredged area 1"]
    for change, sentence in (
        ({"depth": 3.0}, "depth: a dredged area has no such attribute."),
        ({"depth_m": None}, "depth_m: a dredged area needs it. Give a number of m, from -10 to 100."),
        ({"depth_m": "deep"}, 'depth_m: it is "deep". Give a number of m, from -10 to 100.'),
    ):
        with pytest.raises(ValueError) as refusal:
            with_changes(channel, **change)
        assert str(refusal.value).startswith(sentence)


def test_nothing_drawn_is_told(inputs):
    empty = frame((OUTFALL, PIPE)).iloc[:0]
    assert told(lambda: proposal_of_features("drawn", empty, inputs)) == [
        "drawn: nothing is drawn. Draw what is proposed."
    ]


def test_a_line_that_leaves_the_site_is_told_by_its_length(inputs):
    away = LineString([(501_900, 7_770_500), (502_300, 7_770_500)])
    read = proposal_of_features("drawn", frame((ROUTE | {"name": "ferry"}, away)), inputs)
    assert read.remarks == ("vessel route 1 (ferry): 75 % of it (300 m) lies outside the site and is not counted.",)
