"""The drawing is read right or refused, each fault with layer and feature.

Files are written with geopandas, that is by GDAL and not by our own code; places are
compared with those that pyproj gives.
"""

import json
import warnings

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import CRS, Transformer
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from pathways.errors import RefusedError
from pathways.features import LAYERS, REGIONAL_WORDS, fields_of
from pathways.grid import Grid
from pathways.io.vectors import read_features

GRID = Grid(
    np.zeros((100, 100), np.float32),
    350_000.0,
    300_200.0,
    2.0,
    CRS.from_epsg(27700).to_wkt(),
    "EPSG:27700",
)
YARD = Point(350_050, 300_100)
BECK = LineString([(350_010, 300_010), (350_190, 300_020)])
SHED = box(350_060, 300_060, 350_080, 300_070)


def table(geometries, *, crs="EPSG:27700", **columns):
    return geopandas.GeoDataFrame(columns, geometry=list(geometries), crs=crs)


def write(folder, **layers):
    """Write layers into one GeoPackage."""
    path = folder / "features.gpkg"
    for layer, content in layers.items():
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="'crs' was not provided")
            content.to_file(path, layer=layer, driver="GPKG", engine="pyogrio")
    return path


def sources(**columns):
    given = {"id": ["fill"], "kind": ["filling_point"]} | columns
    return table([YARD], **given)


def refused(path):
    """Return the one sentence by which a drawing is refused."""
    with pytest.raises(RefusedError, match=r"\S") as caught:
        read_features(path, GRID)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def told(read):
    return {notice.code for notice in read.notices}


# What is read


def test_every_field_of_a_feature_is_read(tmp_path):
    path = write(
        tmp_path,
        sources=sources(name=["Pump"], volume_l=[1000], fills_per_year=["12.5"]),
        watercourses=table([BECK], id=["beck"], culverted=["yes"], seasonal=[0]),
    )
    read = read_features(path, GRID)
    (source,), (beck,) = read.features.sources, read.features.watercourses
    assert (source.id, source.name, source.volume_l) == ("fill", "Pump", 1000.0)
    assert (source.fills_per_year, source.door) == (12.5, None)
    assert (beck.kind, beck.culverted, beck.seasonal) == ("stream", True, False)
    assert read.features.drawn == {"sources", "watercourses"}
    assert read.notices == ()


@pytest.mark.parametrize(
    "name",
    ["</script><script>alert(1)</script>", "${x}`", "\"'\\", "Tŷ'n-y-Ffôs Ŵŷ", "=1+1"],
)
def test_names_are_kept_letter_by_letter(tmp_path, name):
    read = read_features(write(tmp_path, sources=sources(name=[name])), GRID)
    assert read.features.sources[0].name == name


def test_ids_that_are_numbers_are_read_as_people_write_them(tmp_path):
    many = table([YARD, YARD], id=[7.0, 12.0], kind=["other", "midden"])
    read = read_features(write(tmp_path, sources=many), GRID)
    assert [one.id for one in read.features.sources] == ["7", "12"]


def test_empty_values_become_defaults(tmp_path):
    many = table(
        [YARD, YARD],
        id=["a", "b"],
        kind=["other", "other"],
        volume_l=[5.0, None],
        door=[None, ""],
    )
    read = read_features(write(tmp_path, sources=many), GRID)
    assert [one.volume_l for one in read.features.sources] == [5.0, None]
    assert [one.door for one in read.features.sources] == [None, None]


def test_an_empty_yes_or_no_becomes_the_default(tmp_path):
    import pandas

    covered = pandas.array([True, None], dtype="boolean")
    inlets = table(
        [YARD, SHED.centroid], id=["a", "b"], drains_to="unknown", covered=covered
    )
    read = read_features(write(tmp_path, inlets=inlets), GRID)
    assert [one.covered for one in read.features.inlets] == [True, False]


def test_a_date_is_read_as_text(tmp_path):
    import pandas

    seen = table([YARD], kind=["ponding_seen"], date=pandas.to_datetime(["2024-02-29"]))
    read = read_features(write(tmp_path, observations=seen), GRID)
    assert read.features.observations[0].date == "2024-02-29"


def test_an_empty_layer_counts_as_drawn(tmp_path):
    inlets = table([], id=[], drains_to=[])
    read = read_features(write(tmp_path, sources=sources(), inlets=inlets), GRID)
    assert "inlets" in read.features.drawn
    assert read.features.inlets == ()


def test_nameless_features_are_numbered_around_given_ids(tmp_path):
    buildings = table([SHED, SHED, SHED], id=["building-1", None, None])
    read = read_features(write(tmp_path, buildings=buildings), GRID)
    ids = [one.id for one in read.features.buildings]
    assert ids == ["building-1", "building-2", "building-3"]


@pytest.mark.parametrize(
    ("layer", "word", "meant"),
    [
        (layer, word, meant)
        for (layer, _), words in REGIONAL_WORDS.items()
        for word, meant in list(words.items())[:3]
    ],
)
def test_regional_words_are_understood(tmp_path, layer, word, meant):
    shape = {"Point": YARD, "LineString": BECK, "Polygon": SHED}
    more = {"height_m": [0.1], "drains_to": ["unknown"]}
    content = table(
        [shape[LAYERS[layer].geometries[0]]],
        id=["one"],
        kind=[word.replace("_", "-").title()],
        **{key: more[key] for key in more if key in LAYERS[layer].required},
    )
    read = read_features(write(tmp_path, **{layer: content}), GRID)
    assert getattr(read.features, layer)[0].kind == meant


def test_heights_of_vertices_are_dropped(tmp_path):
    high = table([Point(350_050, 300_100, 88.0)], id=["a"], kind=["other"])
    read = read_features(write(tmp_path, sources=high), GRID)
    assert not read.features.sources[0].geometry.has_z


def test_a_shape_of_one_part_is_that_part(tmp_path):
    read = read_features(write(tmp_path, buildings=table([MultiPolygon([SHED])])), GRID)
    assert read.features.buildings[0].geometry.equals(SHED)


def test_a_watercourse_in_parts_is_several_and_an_inlet_takes_the_nearest(tmp_path):
    far = LineString([(350_010, 300_190), (350_190, 300_190)])
    read = read_features(
        write(
            tmp_path,
            watercourses=table([MultiLineString([far, BECK])], id=["beck"]),
            inlets=table([Point(350_100, 300_020)], id=["g"], drains_to=["beck"]),
        ),
        GRID,
    )
    assert [one.id for one in read.features.watercourses] == ["beck-1", "beck-2"]
    assert read.features.inlets[0].drains_to == "beck-2"


def test_a_doubled_point_or_spike_is_repaired_and_told(tmp_path):
    spike = Polygon(
        [
            (350_000, 300_000),
            (350_020, 300_000),
            (350_020, 300_020),
            (350_020, 300_030),
            (350_020, 300_020),
            (350_000, 300_020),
        ]
    )
    read = read_features(write(tmp_path, buildings=table([spike])), GRID)
    assert told(read) == {"geometry_repaired"}
    assert read.features.buildings[0].geometry.area == pytest.approx(400.0)


# Places


def as_degrees(geometry):
    to_degrees = Transformer.from_crs(27700, 4326, always_xy=True)
    return shapely.transform(geometry, to_degrees.transform, interleaved=False)


def test_degrees_and_the_national_grid_give_the_same_place(tmp_path):
    degrees = table([as_degrees(BECK)], id=["beck"], crs="EPSG:4326")
    path = write(tmp_path, sources=sources(), watercourses=degrees)
    read = read_features(path, GRID)
    np.testing.assert_allclose(
        shapely.get_coordinates(read.features.watercourses[0].geometry),
        shapely.get_coordinates(BECK),
        atol=0.01,
    )
    operations = {layer: (name, good) for layer, name, good in read.operations}
    assert operations["sources"] == ("none: drawn in the ground's system", 0.0)
    assert "British National Grid" in operations["watercourses"][0]
    # The EPSG register gives 2 m for OSGB36 to WGS 84 (6) and 1 m with the OSTN15 grid.
    assert operations["watercourses"][1] in (1.0, 2.0)


def test_a_move_that_is_worse_than_half_a_cell_is_told(tmp_path):
    fine = Grid(GRID.heights_m, GRID.west_m, GRID.north_m, 0.5, GRID.crs, "EPSG:27700")
    degrees = table([as_degrees(YARD)], id=["a"], kind=["other"], crs="EPSG:4326")
    read = read_features(write(tmp_path, sources=degrees), fine)
    assert "moved_coarsely" in told(read)


def test_a_system_with_northing_first_is_read_easting_first(tmp_path):
    # EPSG:2193 lists northing first; files hold easting first all the same.
    grid = Grid(
        GRID.heights_m,
        1_600_000.0,
        5_400_200.0,
        2.0,
        CRS.from_epsg(2193).to_wkt(),
        "EPSG:2193",
    )
    degrees = Transformer.from_crs(2193, 4167, always_xy=True)
    place = Point(degrees.transform(1_600_050.0, 5_400_100.0))
    drawn = table([place], id=["a"], kind=["other"], crs="EPSG:4167")
    read = read_features(write(tmp_path, sources=drawn), grid)
    at = read.features.sources[0].geometry
    assert (at.x, at.y) == pytest.approx((1_600_050.0, 5_400_100.0), abs=1e-3)
    assert read.notices == ()


def write_geojson(folder, *, places=None, **top):
    """Write the layer sources as GeoJSON, with a `crs` member as given."""
    (folder / "features").mkdir()
    longitude, latitude = places or as_degrees(YARD).coords[0]
    feature = {
        "type": "Feature",
        "properties": {"id": "a", "kind": "other"},
        "geometry": {"type": "Point", "coordinates": [longitude, latitude]},
    }
    content = {"type": "FeatureCollection", "features": [feature]} | top
    (folder / "features" / "sources.geojson").write_text(json.dumps(content))
    return folder / "features"


def named(name):
    return {"type": "name", "properties": {"name": name}}


def test_geojson_without_a_system_is_in_degrees(tmp_path):
    # RFC 7946, section 4: WGS 84, longitude and latitude.
    read = read_features(write_geojson(tmp_path), GRID)
    assert read.features.sources[0].geometry.distance(YARD) < 0.01


@pytest.mark.parametrize("name", ["urn:ogc:def:crs:EPSG::27700", "EPSG:27700"])
def test_geojson_that_names_its_system_is_read_in_it(tmp_path, name):
    path = write_geojson(tmp_path, places=YARD.coords[0], crs=named(name))
    assert read_features(path, GRID).features.sources[0].geometry.equals(YARD)


@pytest.mark.parametrize(
    ("crs", "words"),
    [
        ({"type": "link", "properties": {"href": "http://127.0.0.1:9/"}}, "a link"),
        (None, "names no system"),
        (named("EPSG:999999"), "is not known"),
        (named("My own grid"), "is not known"),
    ],
)
def test_geojson_with_an_unclear_system_is_refused(tmp_path, crs, words):
    assert words in refused(write_geojson(tmp_path, crs=crs))


def test_metres_said_to_be_degrees_are_refused(tmp_path):
    assert "are no degrees" in refused(
        write_geojson(tmp_path, places=(350_050, 300_100))
    )


def test_swapped_degrees_are_told(tmp_path):
    places = as_degrees(YARD).coords[0][::-1]
    (notice,) = [
        one
        for one in read_features(write_geojson(tmp_path, places=places), GRID).notices
        if one.code == "outside_ground"
    ]
    assert "look swapped" in notice.text


def test_a_layer_without_a_system_is_refused(tmp_path):
    path = write(tmp_path, sources=table([YARD], id=["a"], kind=["other"], crs=None))
    assert "no coordinate reference system" in refused(path)


def test_features_off_the_ground_are_kept_and_named(tmp_path):
    far = table([Point(360_000, 300_000)], id=["a"], name=["Far"], kind=["other"])
    read = read_features(write(tmp_path, sources=far), GRID)
    assert [one.title for one in read.features.sources] == ["Far"]
    (notice,) = read.notices
    assert (notice.code, "'Far'" in notice.text) == ("outside_ground", True)


# Folders and formats


@pytest.mark.parametrize(
    ("name", "driver"),
    [
        ("sources.shp", "ESRI Shapefile"),
        ("sources.fgb", "FlatGeobuf"),
        ("sources.gpkg", "GPKG"),
    ],
)
def test_a_folder_may_hold_each_format(tmp_path, name, driver):
    sources().to_file(tmp_path / name, driver=driver, engine="pyogrio")
    read = read_features(tmp_path, GRID)
    assert read.features.sources[0].id == "fill"
    assert read.notices == ()


def test_names_that_a_shapefile_cuts_are_understood_and_told(tmp_path):
    long = sources(release_l_per_min=[60.0])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        long.to_file(tmp_path / "sources.shp", engine="pyogrio")
    read = read_features(tmp_path, GRID)
    assert read.features.sources[0].release_l_per_min == 60.0
    assert told(read) == {"column_name_cut"}


def test_a_shapefile_without_its_table_is_refused(tmp_path):
    sources().to_file(tmp_path / "sources.shp", engine="pyogrio")
    (tmp_path / "sources.dbf").unlink()
    assert "'sources.dbf' of the Shapefile is missing" in refused(tmp_path)


def test_two_files_for_one_layer_are_refused(tmp_path):
    sources().to_file(tmp_path / "sources.shp", engine="pyogrio")
    sources().to_file(tmp_path / "sources.fgb", engine="pyogrio")
    assert "more than once" in refused(tmp_path)


def test_a_text_that_calls_itself_gpkg_is_refused(tmp_path):
    path = tmp_path / "features.gpkg"
    path.write_text("<OGRVRTDataSource/>")
    assert "does not begin as a GeoPackage" in refused(path)


def test_a_truncated_geopackage_is_refused(tmp_path):
    path = write(tmp_path, sources=sources())
    path.write_bytes(path.read_bytes()[:5000])
    assert "damaged or cut short" in refused(path)


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"{", "no valid JSON"), (b'{"a": "\xff"}', "UTF-8"), (b"{}", "its type is None")],
)
def test_broken_geojson_is_refused(tmp_path, content, words):
    (tmp_path / "sources.geojson").write_bytes(content)
    assert words in refused(tmp_path)


def test_an_unknown_layer_gets_a_did_you_mean(tmp_path):
    path = write(tmp_path, sources=sources(), watercorses=table([BECK], id=["b"]))
    (notice,) = read_features(path, GRID).notices
    assert "did you mean 'watercourses'?" in notice.text


def test_a_misspelt_column_gets_a_did_you_mean(tmp_path):
    path = write(tmp_path, sources=sources(volum_l=[5.0], colour=["red"]))
    (notice,) = read_features(path, GRID).notices
    assert "did you mean 'volume_l'?" in notice.text


# What is refused


@pytest.mark.parametrize(
    ("layer", "shape", "columns", "words"),
    [
        ("sources", YARD, {"kind": "tap"}, "'kind' is 'tap' and must be one of"),
        ("sources", YARD, {"kind": "fueling_store"}, "did you mean 'fuel_store'?"),
        ("sources", YARD, {"kind": None}, "'kind' is empty and is needed"),
        ("sources", YARD, {"volume_l": -1.0}, "'volume_l' is -1 and must be 0 or more"),
        ("sources", YARD, {"volume_l": "12,5"}, "'12,5', which is no number"),
        ("sources", YARD, {"volume_l": "inf"}, "must be 0 or more"),
        ("sources", YARD, {"name": "x" * 10_001}, "longer than 10,000 bytes"),
        ("sources", YARD, {"door": "d1"}, "'door' is 'd1', which is no id"),
        ("sources", None, {}, "it has no geometry"),
        ("sources", Point(), {}, "it has no geometry"),
        ("sources", BECK, {}, "it is a LineString and the layer holds Point or Pol"),
        ("sources", MultiPolygon([SHED, box(0, 0, 1, 1)]), {}, "drawn in 2 parts"),
        ("watercourses", BECK, {"culverted": "perhaps"}, "must be true or false"),
        ("watercourses", LineString([(1, 1), (1, 1)]), {}, "has no length"),
        ("buildings", Polygon([(0, 0), (9, 9), (9, 0), (0, 9)]), {}, "crosses itself"),
        ("barriers", BECK, {"kind": "wall"}, "'height_m' is empty and is needed"),
        ("inlets", YARD, {}, "'drains_to' is empty and is needed"),
        ("inlets", YARD, {"drains_to": "p1"}, "which is no pipe, tank or watercourse"),
        ("inlets", YARD, {"drains_to": "soakway"}, "did you mean 'soakaway'?"),
    ],
)
def test_a_fault_is_refused_with_layer_and_feature(
    tmp_path, layer, shape, columns, words
):
    given = {"id": "one"} | ({"kind": "other"} if layer == "sources" else {}) | columns
    content = table([shape], **{key: [value] for key, value in given.items()})
    sentence = refused(write(tmp_path, **{layer: content}))
    assert sentence.startswith(f"features.gpkg, {layer}, one: ")
    assert words in sentence


def test_a_feature_without_an_id_is_named_by_its_number(tmp_path):
    path = write(tmp_path, sources=sources(id=[None]))
    assert refused(path).startswith("features.gpkg, sources, feature 1: 'id' is empty")


def test_an_id_used_twice_is_refused(tmp_path):
    path = write(tmp_path, sources=table([YARD, YARD], id=["a", "a"], kind="other"))
    assert "the id 'a' is used 2 times" in refused(path)


def test_an_id_that_two_outlets_share_is_refused(tmp_path):
    path = write(
        tmp_path,
        watercourses=table([BECK], id=["w"]),
        pipes=table([BECK], id=["w"]),
    )
    assert "used in pipes and watercourses" in refused(path)


def test_all_faults_are_told_at_once(tmp_path):
    path = write(
        tmp_path,
        sources=table(
            [None, YARD], id=["a", "b"], kind=["tap", "other"], volume_l=[-1, -2]
        ),
        barriers=table([BECK], id=["w"], kind=["wall"], height_m=["high"]),
    )
    with pytest.raises(RefusedError, match=r"\n") as caught:
        read_features(path, GRID)
    assert [one.where.split(", ")[1:] for one in caught.value.notices] == [
        ["sources", "a"],
        ["sources", "a"],
        ["sources", "a"],
        ["sources", "b"],
        ["barriers", "w"],
    ]


def test_a_fault_is_not_told_twice_through_a_reference(tmp_path):
    path = write(
        tmp_path,
        tanks=table([None], id=["t"], capacity_l=[10.0]),
        inlets=table([YARD], id=["g"], drains_to=["t"]),
    )
    assert refused(path).startswith("features.gpkg, tanks, t: it has no geometry")


def test_a_thousand_equal_faults_are_listed_in_part(tmp_path):
    path = write(tmp_path, buildings=table([SHED] * 1000, kind=["castle"] * 1000))
    with pytest.raises(RefusedError, match="the same for 980 more") as caught:
        read_features(path, GRID)
    assert len(caught.value.notices) == 21


def test_every_layer_can_be_empty_and_typed_as_written(tmp_path):
    for layer, described in LAYERS.items():
        columns = {one.name: [] for one in fields_of(layer)}
        pyogrio.write_dataframe(
            table([], **columns),
            tmp_path / "features.gpkg",
            layer=layer,
            geometry_type=described.geometries[0],
        )
    read = read_features(tmp_path / "features.gpkg", GRID)
    assert read.features.drawn == set(LAYERS)
    assert read.notices == ()


@pytest.mark.parametrize("seed", range(4))
def test_a_damaged_file_is_read_or_refused_and_nothing_else(tmp_path, seed):
    path = write(tmp_path, sources=sources(), buildings=table([SHED] * 3))
    random = np.random.default_rng(seed)
    good = np.frombuffer(path.read_bytes(), "u1")
    refusals = []
    for most in [600, good.size] * 20:
        bad = good.copy()
        bad[random.integers(0, most, 5)] = random.integers(0, 256, 5)
        path.write_bytes(bad.tobytes())
        try:
            read_features(path, GRID)
        except RefusedError as error:
            refusals.append(str(error))
    assert refusals
    assert not any(str(tmp_path) in one for one in refusals)
