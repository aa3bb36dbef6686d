"""results.gpkg, read back with geopandas and with Python's own SQLite."""

from __future__ import annotations

import dataclasses
import json
import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from xml.etree import ElementTree

import geopandas
import numpy as np
import pyogrio
import pyproj
import pytest
from shapely import LineString, MultiPolygon, Point, box, unary_union

from pathways.assessment import CAUTIONS
from pathways.errors import OutputError
from pathways.features import Features, Source
from pathways.grid import Grid
from pathways.io._result_layers import FIELDS, line_of
from pathways.io.geopackage import check_geopackage, write_geopackage
from pathways.io.results import results_document
from pathways.io.run_record import run_document
from pathways.siting.setback_areas import SetbackArea
from pathways.terrain.pathway import Leg

SETBACK = SetbackArea(
    rule="watercourse (bed)",
    applies_to=("bed",),
    says="a bed keeps 10 m from a watercourse",
    citation="a clause; 'quoted'",
    distance_m=10.0,
    area=box(0, 0, 20, 20),
)

KINDS = {
    **dict.fromkeys(("pathways", "pathway_legs", "alternatives"), "LineString"),
    **dict.fromkeys(
        ("sites", "site_layouts", "setbacks", "source_areas", "reach"), "MultiPolygon"
    ),
    **dict.fromkeys(("sources", "hollows", "spills", "ends", "site_scores"), "Point"),
}


@pytest.fixture
def assessment(assessment):
    return dataclasses.replace(assessment, setbacks=(SETBACK,))


@pytest.fixture
def path(assessment, tmp_path):
    path = tmp_path / "results.gpkg"
    write_geopackage(assessment, path)
    return path


def layer(path, name):
    return geopandas.read_file(path, layer=name)


def rows(path, query):
    with closing(sqlite3.connect(path)) as base:
        return base.execute(query).fetchall()


def xml(text):
    return ElementTree.fromstring(text)  # noqa: S314  our own text


def test_two_writes_of_one_assessment_give_the_same_bytes(assessment, tmp_path):
    for name in "ab":
        write_geopackage(assessment, tmp_path / f"{name}.gpkg")
    assert (tmp_path / "a.gpkg").read_bytes() == (tmp_path / "b.gpkg").read_bytes()


def test_the_moment_that_gdal_writes_is_given_back(path):
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None


def test_every_layer_is_there_with_its_fields(path):
    names = {
        name: list(pyogrio.read_info(path, layer=name)["fields"]) for name in FIELDS
    }
    assert names == {name: list(fields) for name, fields in FIELDS.items()}


def test_an_empty_layer_has_its_fields_and_its_kind_of_geometry(
    empty_assessment, tmp_path
):
    path = tmp_path / "results.gpkg"
    write_geopackage(empty_assessment, path)
    told = {name: pyogrio.read_info(path, layer=name) for name in FIELDS}
    assert {
        name: (list(info["fields"]), info["geometry_type"], info["features"])
        for name, info in told.items()
    } == {name: (list(fields), KINDS[name], 0) for name, fields in FIELDS.items()}


def test_fields_of_an_empty_layer_have_the_types_of_a_full_one(
    path, empty_assessment, tmp_path
):
    empty = tmp_path / "empty.gpkg"
    write_geopackage(empty_assessment, empty)

    def types(file):
        return {
            name: list(pyogrio.read_info(file, layer=name)["ogr_types"])
            for name in FIELDS
        }

    assert types(empty) == types(path)


def test_pathway_fields_bear_the_names_and_values_of_the_json(assessment, path):
    documents = results_document(assessment)["pathways"]
    names = set(documents[0])
    for document, (_, row) in zip(
        documents, layer(path, "pathways").iterrows(), strict=True
    ):
        for name in names:
            value = document[name]
            if isinstance(value, list | dict):
                assert json.loads(row[name]) == value
            elif value is None:
                assert row[name] is None or np.isnan(row[name])
            else:
                assert row[name] == value


def test_hostile_names_come_back_letter_by_letter(path, hostile_names):
    pathways, sites = layer(path, "pathways"), layer(path, "sites")
    legs = layer(path, "pathway_legs")
    assert [
        pathways.source_name[0], pathways.receptor_id[0], legs.through[1],
        json.loads(pathways.via[0])[0], pathways.source_name[1], sites.name[0],
        json.loads(sites.reasons[0])[1],
    ] == [hostile_names[which] for which in (0, 2, 3, 4, 5, 6, 7)]  # fmt: skip


def test_a_null_in_a_name_ends_no_text(assessment, tmp_path):
    first = dataclasses.replace(assessment.pathways[0], source_name="a\0b\ud83dc")
    write_geopackage(
        dataclasses.replace(assessment, pathways=(first,), spills=()),
        tmp_path / "x.gpkg",
    )
    assert layer(tmp_path / "x.gpkg", "pathways").source_name[0] == "a\ufffdb\ufffdc"


def test_a_pathway_is_one_line_of_its_legs(path):
    # By hand: both legs in order, the joint (350003, 280003) once.
    assert (
        layer(path, "pathways")
        .geometry[0]
        .equals_exact(
            LineString(
                [(350001, 280005), (350002, 280004), (350003, 280003), (350009, 280001)]
            )
        )
    )


def test_a_pathway_without_a_line_keeps_its_row(path):
    pathway = layer(path, "pathways").iloc[1]
    assert (pathway.outcome, pathway.why, pathway.geometry) == (
        "not_known", "off_grid", None,
    )  # fmt: skip


def test_legs_come_in_the_order_of_flow(path):
    legs = layer(path, "pathway_legs")
    assert [*zip(legs.pathway, legs.leg, legs.kind, strict=True)] == [
        (1, 1, "surface"),
        (1, 2, "pipe"),
    ]


def test_legs_keep_their_lines(assessment, path):
    written = layer(path, "pathway_legs").geometry
    assert [
        one.equals_exact(leg.line)
        for one, leg in zip(written, assessment.pathways[0].legs, strict=True)
    ] == [True, True]


def test_legs_of_a_single_place_make_no_line():
    assert line_of([Leg(kind="surface", line=LineString([(1, 1), (1, 1)]))]) is None


def test_a_site_keeps_its_footprint_unrounded(assessment, path):
    footprint = layer(path, "sites").geometry[0]
    assert footprint.equals_exact(MultiPolygon([assessment.sites[0].footprint]))


def test_a_site_whose_footprint_is_a_point_is_kept(assessment, tmp_path):
    site = dataclasses.replace(assessment.sites[0], footprint=Point(350005, 280005))
    write_geopackage(
        dataclasses.replace(assessment, sites=(site,)), tmp_path / "x.gpkg"
    )
    assert layer(tmp_path / "x.gpkg", "sites").geometry[0] == Point(350005, 280005)


def test_setbacks_keep_rule_citation_distance_and_area(path):
    setback = layer(path, "setbacks").iloc[0]
    kept = (setback.rule, setback.says, setback.citation, setback.distance_m)
    assert kept == (SETBACK.rule, SETBACK.says, SETBACK.citation, SETBACK.distance_m)
    assert setback.geometry.equals(SETBACK.area)


def test_a_hollow_is_a_point_with_its_measures(path):
    hollow = layer(path, "hollows").iloc[0]
    assert (hollow.geometry, hollow.capacity_l, hollow.depth_m, hollow.held_by) == (
        Point(350003, 280003), 120.25, 0.05, "kerb",
    )  # fmt: skip


def test_each_pathway_ends_in_a_point(path):
    ends = layer(path, "ends")
    assert list(ends.geometry) == [Point(350009, 280001), Point(350100, 280100)]


def test_a_source_bears_the_worst_outcome_of_its_pathways(assessment, tmp_path):
    worst, second = assessment.pathways
    both = (dataclasses.replace(second, source_id="tap"), worst)
    write_geopackage(
        dataclasses.replace(assessment, pathways=both, spills=()), tmp_path / "x.gpkg"
    )
    sources = layer(tmp_path / "x.gpkg", "sources").set_index("source_id")
    assert sources.outcome["tap"] == "reaches_water"


def test_a_source_without_a_pathway_is_not_known(path):
    sources = layer(path, "sources").set_index("source_id")
    assert tuple(sources.loc["untraced", ["outcome", "why"]]) == (
        "not_known", "not_traced",
    )  # fmt: skip


def test_a_source_drawn_as_an_area_is_kept_as_one(path):
    [area] = layer(path, "source_areas").geometry
    assert area.equals(box(350098, 280098, 350102, 280102))


def test_a_source_drawn_as_several_areas_is_kept(assessment, tmp_path):
    parts = unary_union([box(0, 0, 1, 1), box(3, 3, 4, 4)])
    features = Features(sources=(Source(geometry=parts, id="yard", kind="other"),))
    farm = dataclasses.replace(assessment.farm, features=features)
    write_geopackage(dataclasses.replace(assessment, farm=farm), tmp_path / "x.gpkg")
    assert layer(tmp_path / "x.gpkg", "source_areas").geometry[0].equals(parts)


@pytest.mark.parametrize(
    "code", ["EPSG:27700", "EPSG:25832", "EPSG:2180", "EPSG:31468"]
)
def test_a_registered_system_comes_back(assessment, tmp_path, code):
    """2180 and 31468 name the northing first: GeoPackage stores the easting first."""
    path = in_system(assessment, tmp_path, pyproj.CRS(code))
    assert pyproj.CRS(layer(path, "pathways").crs) == pyproj.CRS(code)
    assert layer(path, "ends").geometry[0] == Point(350009, 280001)


def in_system(assessment, folder, crs):
    grid = assessment.farm.grid
    moved = Grid(grid.heights_m, grid.west_m, grid.north_m, 2.0, crs.to_wkt(), crs.name)
    farm = dataclasses.replace(assessment.farm, grid=moved)
    write_geopackage(dataclasses.replace(assessment, farm=farm), folder / "x.gpkg")
    return folder / "x.gpkg"


def test_a_system_without_a_number_comes_back(assessment, tmp_path):
    local = pyproj.CRS(
        "+proj=tmerc +lat_0=52.1 +lon_0=-3.7 +k=1 +x_0=350000 +y_0=280000 +ellps=airy"
        " +units=m +no_defs"
    )
    path = in_system(assessment, tmp_path, local)
    read_back = pyproj.CRS(layer(path, "pathways").crs)
    assert read_back.to_epsg() is None
    assert read_back.equals(local, ignore_axis_order=True)


def test_the_file_says_what_made_it(path):
    [(told,)] = rows(path, "SELECT metadata FROM gpkg_metadata WHERE id = 1")
    items = {one.get("key"): one.text for one in xml(told).iter("MDI")}
    assert items["farm_name"] == "Fferm Tŷ-Nant <&>"
    assert items["schema"] == "farm-pathways/1"
    assert len(items["settings_sha256"]) == 64


def test_the_record_of_the_run_is_kept_but_for_its_moment(assessment, tmp_path):
    path = tmp_path / "results.gpkg"
    record = run_document(
        inputs=[("ground.tif", "0" * 64), ("Tŷ/\ud83d.gpkg", "1" * 64)],
        operations=[
            ("sources", "none", 0.0),
            ("pipes", "none", 0.0),
            ("tanks", "pipeline", None),
        ],
        settings=assessment.farm.settings,
        notices=(),
    )
    write_geopackage(assessment, path, record=record)
    check_geopackage(assessment, path, record=record)
    [(kept,)] = rows(path, "SELECT metadata FROM gpkg_metadata WHERE id = 2")
    assert json.loads(kept) == {k: v for k, v in record.items() if k != "made_at"}
    [(told,)] = rows(path, "SELECT metadata FROM gpkg_metadata WHERE id = 1")
    items = {one.get("key"): one.text for one in xml(told).iter("MDI")}
    assert items["inputs"].splitlines()[0] == f"ground.tif (SHA-256 {'0' * 64})"
    assert items["reprojections"] == "sources, pipes: none\ntanks: pipeline"


def test_two_runs_at_different_moments_give_the_same_bytes(assessment, tmp_path):
    def write(name, made_at):
        record = run_document(
            inputs=(), operations=(), settings=assessment.farm.settings, notices=(),
            made_at=made_at,
        )  # fmt: skip
        write_geopackage(assessment, tmp_path / name, record=record)
        return (tmp_path / name).read_bytes()

    moments = datetime(2024, 1, 1, tzinfo=UTC), datetime(2025, 1, 1, tzinfo=UTC)
    assert write("a.gpkg", moments[0]) == write("b.gpkg", moments[1])


def test_metadata_are_as_the_standard_asks(path):
    """OGC 12-128r18, annex F.8: extension, scopes, types and references."""
    assert rows(
        path,
        "SELECT table_name, scope FROM gpkg_extensions"
        " WHERE extension_name = 'gpkg_metadata' ORDER BY 1",
    ) == [("gpkg_metadata", "read-write"), ("gpkg_metadata_reference", "read-write")]
    kept = rows(path, "SELECT md_scope, md_standard_uri, mime_type FROM gpkg_metadata")
    assert kept == [
        ("dataset", "http://gdal.org", "text/xml"),
        ("dataset", "https://www.rfc-editor.org/rfc/rfc8259", "application/json"),
    ]
    references = rows(
        path,
        "SELECT reference_scope, table_name, column_name, row_id_value, md_parent_id"
        " FROM gpkg_metadata_reference",
    )
    of_file = [one for one in references if one[0] == "geopackage"]
    assert of_file == [("geopackage", None, None, None, None)] * 2
    of_layers = [one for one in references if one[0] == "table"]
    assert of_layers == [("table", name, None, None, None) for name in FIELDS]


def test_each_layer_is_named_in_plain_words_and_tells_the_cautions(path):
    told = rows(
        path,
        "SELECT table_name, identifier, description FROM gpkg_contents"
        " WHERE data_type = 'features'",
    )
    assert [name for name, _, _ in told] == list(FIELDS)
    assert len({identifier for _, identifier, _ in told}) == len(FIELDS)
    for _, identifier, description in told:
        assert identifier[0].isupper()
        assert "_" not in identifier
        assert description.endswith(" ".join(CAUTIONS))


def test_the_version_is_one_that_desktop_gis_open_without_a_warning(path):
    # GeoPackage 1.3: application_id "GPKG", user_version 10300 (OGC 12-128r18,
    # requirement 2). GDAL 3.6, in Debian 12, warns of 1.4: tests/external opens it.
    assert rows(path, "PRAGMA application_id") == [(0x47504B47,)]
    assert rows(path, "PRAGMA user_version") == [(10300,)]


def test_the_tables_that_the_standard_asks_for_are_there(path):
    # OGC 12-128r18, requirements 10, 13 and 21, and annex F.8.
    names = {name for (name,) in rows(path, "SELECT name FROM sqlite_master")}
    assert names >= {
        "gpkg_spatial_ref_sys", "gpkg_contents", "gpkg_geometry_columns",
        "gpkg_extensions", "gpkg_metadata", "gpkg_metadata_reference",
    }  # fmt: skip


def test_the_database_keeps_its_own_rules(path):
    assert rows(path, "PRAGMA integrity_check") == [("ok",)]
    assert rows(path, "PRAGMA foreign_key_check") == []


def test_nothing_is_left_beside_the_file(path):
    assert [one.name for one in path.parent.iterdir()] == ["results.gpkg"]


def test_a_whole_file_passes_the_check(assessment, path):
    check_geopackage(assessment, path)


@pytest.mark.parametrize(
    "change",
    [
        "DELETE FROM pathway_legs WHERE leg = 2",
        "UPDATE sites SET rank = rank, geom = NULL",
        "DELETE FROM layer_styles WHERE f_table_name = 'sites'",
        "DROP TABLE ends",
        "DELETE FROM gpkg_metadata_reference WHERE table_name = 'reach'",
        "UPDATE gpkg_metadata SET metadata = '' WHERE mime_type = 'application/json'",
        "UPDATE gpkg_contents SET srs_id = 4711 WHERE table_name = 'reach'",
        "PRAGMA user_version = 10400",
    ],
)
def test_a_lost_row_is_noticed(assessment, path, change):
    with closing(sqlite3.connect(path)) as base, base:
        for name in rows(path, "SELECT name FROM sqlite_master WHERE type='trigger'"):
            base.execute(f'DROP TRIGGER "{name[0]}"')
        base.execute(change)
    with pytest.raises(OutputError, match=r"results\.gpkg was damaged"):
        check_geopackage(assessment, path)


def test_a_damaged_page_is_noticed(assessment, path):
    content = bytearray(path.read_bytes())
    content[len(content) // 2 :] = bytes(len(content) - len(content) // 2)
    path.write_bytes(content)
    with pytest.raises(OutputError, match=r"results\.gpkg was damaged"):
        check_geopackage(assessment, path)


def test_a_folder_that_is_not_there_is_refused_in_one_sentence(assessment, tmp_path):
    with pytest.raises(OutputError, match=r"cannot write x\.gpkg"):
        write_geopackage(assessment, tmp_path / "none" / "x.gpkg")


@pytest.mark.skipif(os.name == "nt", reason="no limit of file size to play a full disk")
@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 0.999])
def test_a_disk_that_fills_up_is_never_taken_for_a_whole_file(assessment, path, share):
    import resource

    def write_and_check():
        write_geopackage(assessment, path)
        check_geopackage(assessment, path)

    earlier = resource.getrlimit(resource.RLIMIT_FSIZE)
    room = int(share * path.stat().st_size)
    path.unlink()
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, earlier[1]))
    try:
        with pytest.raises(OutputError, match=r"^[^\n]{0,90}results\.gpkg[^\n]{0,90}$"):
            write_and_check()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, earlier)


def test_outcomes_have_the_same_colours_in_gis_and_on_the_map():
    from pathways.io.styles import OUTCOME_LOOKS
    from pathways.pages.palette import OUTCOMES as ON_THE_MAP

    for outcome, look in OUTCOME_LOOKS.items():
        red, green, blue, _ = (int(one) for one in look.colour.split(","))
        assert f"#{red:02X}{green:02X}{blue:02X}" == ON_THE_MAP[outcome]["colour"]


def test_spills_have_a_row_for_each_loss_and_state(assessment, path):
    table = layer(path, "spills")
    spill = assessment.spills[0]
    assert len(table) == 4 * len(spill.releases)
    row = table[(table.loss == "stated") & (table.state == "dry")].iloc[0]
    fate = spill.fate("stated", "dry")
    assert row.film_l == pytest.approx(fate.film_l, abs=0.001)
    assert row.gets_past_high_l == pytest.approx(fate.gets_past_l[2], abs=0.001)
    assert (row.source_id, row.pathway) == ("tap", 1)
    assert (row.geometry.x, row.geometry.y) == assessment.pathways[0].start
