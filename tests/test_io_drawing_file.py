"""One GeoJSON file as a drawing: read right, or refused with the number of the feature.

Places are compared with those that pyproj gives; the format is RFC 7946.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from pyproj import CRS
from shapely import LineString, Point, Polygon

from pathways.errors import RefusedError
from pathways.features import Barrier, Features, Inlet, Source, Surface
from pathways.grid import Grid
from pathways.io._geometries import move_to
from pathways.io.vectors import read_features
from pathways.pages.draw import Sheet, _data
from pathways.pages.relief import relief


def grid_in(code, west_m, north_m):
    return Grid(
        np.linspace(0, 1, 10_000, dtype="f4").reshape(100, 100),
        west_m,
        north_m,
        2.0,
        CRS.from_epsg(code).to_wkt("WKT2_2019"),
        f"EPSG:{code}",
    )


GRID = grid_in(27700, 350_000.0, 300_200.0)
MOVE = move_to(GRID, CRS.from_epsg(4326))
YARD = json.loads(shapely.to_geojson(MOVE.back(Point(350_050, 300_100))))


def feature(layer="sources", geometry=YARD, **properties):
    given = {"id": "S1", "kind": "filling_point"} | properties
    if layer is not None:
        given["layer"] = layer
    return {"type": "Feature", "properties": given, "geometry": geometry}


def write(folder, *features, **more):
    path = folder / "features.geojson"
    whole = {"type": "FeatureCollection", "features": list(features), **more}
    path.write_text(json.dumps(whole), encoding="utf-8")
    return path


def refused(path):
    with pytest.raises(RefusedError, match=r"\S") as caught:
        read_features(path, GRID)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def ours(**more):
    return {"farm_pathways": {"placed_by": MOVE.operation, **more}}


# What is read


def test_features_are_sorted_into_layers_with_their_fields(tmp_path):
    gully = feature("inlets", id="G1", kind="gully", drains_to="unknown")
    read = read_features(write(tmp_path, gully, feature(volume_l=600)), GRID)
    (source,) = read.features.sources
    assert (source.id, source.volume_l) == ("S1", 600.0)
    assert read.features.inlets[0].drains_to == "unknown"
    assert read.features.drawn == {"sources", "inlets"}


def test_name_of_a_layer_is_read_as_people_write_it(tmp_path):
    read = read_features(write(tmp_path, feature("Water Supplies", kind="well")), GRID)
    assert read.features.water_supplies[0].kind == "well"


def test_what_was_looked_for_is_read_from_the_drawing(tmp_path):
    path = write(tmp_path, feature(), **ours(none_here=["inlets", "flood_zone"]))
    assert read_features(path, GRID).none_here == ("inlets", "flood_zone")


def test_system_that_the_file_names_is_kept_to(tmp_path):
    at = {"type": "Point", "coordinates": [350_050, 300_100]}
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::27700"}}
    read = read_features(write(tmp_path, feature(geometry=at), crs=named), GRID)
    assert read.features.sources[0].geometry == Point(350_050, 300_100)


# How it was placed


NATIONAL_GRIDS = [
    (27700, 350_000.0, 300_200.0),  # Great Britain
    (25832, 500_000.0, 5_700_000.0),  # Germany, Denmark
    (2154, 650_000.0, 6_700_000.0),  # France
    (32633, 400_000.0, 5_600_000.0),  # UTM
    (31467, 3_500_000.0, 5_700_000.0),  # Germany, older
    (28992, 150_000.0, 450_000.0),  # The Netherlands
    (2056, 2_600_000.0, 1_200_000.0),  # Switzerland
    (2157, 600_000.0, 750_000.0),  # Ireland
    (3035, 4_321_000.0, 3_210_000.0),  # Europe
    (26915, 500_000.0, 4_600_000.0),  # United States
    (2193, 1_600_000.0, 5_400_000.0),  # New Zealand
]


def drawn_on(grid):
    """Things at the corners and in the middle, as the page embeds them."""
    west, south, east, north = grid.extent
    features = Features(
        sources=(Source(id="S1", kind="other", geometry=Point(west + 1, north - 1)),),
        barriers=(
            Barrier(
                id="K1",
                kind="kerb",
                height_m=0.12,
                geometry=LineString([(west, south), (east, north)]),
            ),
        ),
        surfaces=(
            Surface(
                id="C1",
                kind="concrete",
                geometry=Polygon([(west, south), (east, south), (east, north)]),
            ),
        ),
    )
    move = move_to(grid, CRS.from_epsg(4326))
    return features, Sheet(
        grid=grid,
        farm="",
        features=features,
        none_here=(),
        placed_by=move.operation,
        to_degrees=move.back,
    )


@pytest.mark.parametrize(("code", "west_m", "north_m"), NATIONAL_GRIDS)
def test_what_the_page_places_is_read_within_a_centimetre(
    tmp_path, code, west_m, north_m
):
    grid = grid_in(code, west_m, north_m)
    features, sheet = drawn_on(grid)
    data = _data(sheet, relief(grid), 1.0)
    saved = {"farm_pathways": {"placed_by": data["placed_by"]}}
    read = read_features(write(tmp_path, *data["start"], **saved), grid)
    for layer in ("sources", "barriers", "surfaces"):
        (before,), (after,) = getattr(features, layer), getattr(read.features, layer)
        apart = shapely.get_coordinates(before.geometry) - shapely.get_coordinates(
            after.geometry
        )
        assert np.abs(apart).max() < 0.01
    assert read.notices == ()


@pytest.mark.parametrize(("code", "west_m", "north_m"), NATIONAL_GRIDS)
def test_picture_of_the_ground_lies_where_the_reader_puts_it(code, west_m, north_m):
    """A tap on the picture's corner is read at the ground's corner.

    The map draws in Web Mercator: spherical formulas of EPSG guidance note 7-2, 1.3.3.
    The picture's frame touches the outermost corners of the ground.
    """
    grid = grid_in(code, west_m, north_m)
    move = move_to(grid, CRS.from_epsg(4326))
    west, south, east, north = grid.extent
    corners = [(west, south), (west, north), (east, south), (east, north)]
    places = shapely.get_coordinates(move.back(LineString(corners)))
    framed = relief(grid)
    metres = 111_320.0
    assert abs(framed.south_west[1] - places[:, 0].min()) * metres < 0.01
    assert abs(framed.north_east[0] - places[:, 1].max()) * metres < 0.01


def test_file_that_another_operation_placed_is_warned_of(tmp_path):
    path = write(tmp_path, feature(), farm_pathways={"placed_by": "some other"})
    (notice,) = read_features(path, GRID).notices
    assert notice.code == "placed_otherwise"
    assert "some other" in notice.text


def test_degrees_that_no_page_of_ours_placed_are_warned_of(tmp_path):
    (notice,) = read_features(write(tmp_path, feature()), GRID).notices
    assert notice.code == "moved_coarsely"


# What is refused


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (feature(None), "feature 2 (S1): it does not say in 'layer'"),
        (feature("  "), "feature 2 (S1): it does not say in 'layer'"),
        (feature(7), "feature 2 (S1): it does not say in 'layer'"),
        (feature("inlet"), "feature 2 (S1): its 'layer' is 'inlet'"),
        (feature("inlet"), "did you mean 'inlets'"),
        (feature("zzz"), "it must be one of sources, "),
        (feature("__proto__"), "'__proto__', which is not known"),
        ({"type": "Feature", "properties": None}, "feature 2: it is no GeoJSON"),
        (7, "feature 2: it is no GeoJSON"),
        (None, "feature 2: it is no GeoJSON"),
        (feature(id="S2", geometry=None), "sources, S2: it has no geometry"),
        (feature(id="S2", geometry=[]), "S2: its geometry cannot be read"),
        (feature(id="S2", geometry={"type": "Point"}), "geometry cannot be read"),
        (
            feature("buildings", id="", kind="closed", geometry=7),
            "buildings, feature 2: its geometry",
        ),
        (
            feature(id="S2", geometry={"type": "Point", "coordinates": [1e999, 2]}),
            "geometry cannot be read",
        ),
        (
            feature(
                id="S2", geometry={"type": "Point", "coordinates": [350_050, 300_100]}
            ),
            "are no degrees",
        ),
        (
            feature(
                id="S2",
                geometry={"type": "LineString", "coordinates": [[0, 1], [1, 2]]},
            ),
            "S2",
        ),
        (feature(id="S2", volume_l=[1]), "'volume_l' is '[1]', which is no number"),
        (feature(id="S2", volume_l=10**400), "which is no number"),
        (feature(id="S2", volume_l=True), "which is no number"),
        (feature(id="S2", name={"a": 1}), "holds a list or bytes"),
        (feature(id="S2", name="\ud800"), "a character that no file can keep"),
        (feature(id="S2", name="a\0b"), "a character that no file can keep"),
        (feature(id="S2", kind="moat"), "'kind' is 'moat'"),
    ],
)
def test_faulty_feature_is_refused_with_its_number_or_id(tmp_path, bad, words):
    assert words in refused(write(tmp_path, feature(), bad))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "no valid JSON"),
        ("{}", "its type is None"),
        ('{"type":"FeatureCollection"}', "no list of 'features'"),
        (
            '{"type":"FeatureCollection","features":[' + "[" * 10_000,
            "nested too deeply",
        ),
        ('{"type":"FeatureCollection","features":[' + "1" * 5_000 + "]}", "no number"),
        ("no JSON", "does not begin as a GeoJSON file does"),
    ],
)
def test_file_that_is_no_geojson_is_refused(tmp_path, text, words):
    path = tmp_path / "features.geojson"
    path.write_text(text, encoding="utf-8")
    assert words in refused(path)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (["inlet"], "'inlet', and may hold only"),
        (["inlet"], "did you mean 'inlets'"),
        ("everything", "'everything', and may hold only"),
        ([["inlets"]], "may hold only"),
    ],
)
def test_none_here_that_is_not_understood_is_refused(tmp_path, said, words):
    assert words in refused(write(tmp_path, feature(), **ours(none_here=said)))


def test_farm_pathways_of_another_kind_is_left_alone(tmp_path):
    path = write(tmp_path, feature(), farm_pathways=[1])
    assert read_features(path, GRID).none_here == ()


def test_every_fault_is_told_at_once(tmp_path):
    path = write(tmp_path, feature("inlet"), feature(None), feature(kind="moat"))
    with pytest.raises(RefusedError, match=r"\S") as caught:
        read_features(path, GRID)
    assert len(caught.value.notices) >= 3


def test_inlet_and_its_pipe_are_joined_by_id(tmp_path):
    line = json.loads(
        shapely.to_geojson(
            MOVE.back(LineString([(350_050, 300_100), (350_050, 300_050)]))
        )
    )
    gully = feature("inlets", id="G1", kind="gully", drains_to="P1")
    pipe = feature("pipes", id="P1", kind="pipe", geometry=line)
    read = read_features(write(tmp_path, feature(), gully, pipe, **ours()), GRID)
    (inlet,) = read.features.inlets
    assert isinstance(inlet, Inlet)
    assert inlet.drains_to == read.features.pipes[0].id
