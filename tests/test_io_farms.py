"""A farm folder is read as a whole, or every fault is told at once.

SHA-256 is compared with the standard library's; everything else is worked out by hand.
"""

import hashlib

import geopandas
import numpy as np
import pytest
import rasterio
from affine import Affine
from shapely import LineString, Point

from pathways.errors import CrsError, OutputError, RefusedError
from pathways.features import LAYERS, fields_of
from pathways.io._gdal import pyogrio
from pathways.io.farms import read_farm
from pathways.io.new_farm import settings_text, write_new_farm
from pathways.run import check_farm
from pathways.settings import Settings

PLACE = Affine(2.0, 0.0, 350_000.0, 0.0, -2.0, 300_200.0)
TOML = """\
[farm]
name = "Tŷ'n-y-Ffôs"

[ground]
height_unit = "metre"
survey_date = 2024-03-01
"""
SOURCES = {"id": ["fill"], "kind": ["filling_point"]}


def write_ground(path):
    heights = np.arange(10_000, dtype="f4").reshape(1, 100, 100) / 100
    size = {"width": 100, "height": 100, "count": 1, "dtype": "float32"}
    more = {"crs": "EPSG:27700", "transform": PLACE, "nodata": -9999.0}
    with rasterio.open(path, "w", driver="GTiff", **size, **more) as file:
        file.write(heights)


def write_layer(path, layer, geometry, columns):
    content = geopandas.GeoDataFrame(columns, geometry=[geometry], crs="EPSG:27700")
    content.to_file(path, layer=layer, driver="GPKG", engine="pyogrio")


@pytest.fixture
def farm(tmp_path):
    """A farm with a source and a stream, and nothing else drawn."""
    (tmp_path / "farm.toml").write_text(TOML, encoding="utf-8")
    write_ground(tmp_path / "ground.tif")
    drawing = tmp_path / "features.gpkg"
    write_layer(drawing, "sources", Point(350_050, 300_100), SOURCES)
    beck = LineString([(350_010, 300_010), (350_190, 300_010)])
    write_layer(drawing, "watercourses", beck, {"id": ["beck"]})
    return tmp_path


def errors(folder):
    return [one for one in check_farm(folder) if one.level == "error"]


def only_error(folder):
    """Return the one sentence that is told, and see that reading raises the same."""
    (error,) = errors(folder)
    with pytest.raises(RefusedError, match=r"\S") as caught:
        read_farm(folder)
    assert [one for one in caught.value.notices if one.level == "error"] == [error]
    assert "\n" not in error.text
    assert str(folder) not in error.text
    return f"{error.where}: {error.text}"


# What is read


@pytest.mark.parametrize("name", ["", "farm.toml"])
def test_a_farm_is_read_from_its_folder_or_its_settings(farm, name):
    read = read_farm(farm / name)
    assert read.farm.settings.farm.name == "Tŷ'n-y-Ffôs"
    assert read.farm.settings.ground.survey_date == "2024-03-01"
    assert read.farm.features.watercourses[0].id == "beck"
    assert read.farm.grid.cell_size_m == 2.0


def test_what_it_was_read_from_is_kept(farm):
    provenance = read_farm(farm).provenance
    names = ("farm.toml", "ground.tif", "features.gpkg")
    assert provenance.inputs == tuple(
        (name, hashlib.sha256((farm / name).read_bytes()).hexdigest()) for name in names
    )
    assert [layer for layer, _, _ in provenance.operations] == [
        "sources",
        "watercourses",
    ]
    assert provenance.settings["rules"]["jurisdiction"] == "generic"


def test_every_file_of_a_folder_of_layers_is_kept(farm):
    (farm / "features").mkdir()
    sources = pyogrio.read_dataframe(farm / "features.gpkg", layer="sources")
    sources.to_file(farm / "features" / "sources.shp", engine="pyogrio")
    (farm / "features.gpkg").unlink()
    names = {name for name, _ in read_farm(farm).provenance.inputs}
    assert {"features/sources.shp", "features/sources.dbf"} <= names


def test_layers_that_were_not_drawn_are_told(farm):
    texts = [
        one.text for one in read_farm(farm).farm.notices if one.code == "layer_absent"
    ]
    assert any(
        "an unseen gully can carry a spill straight to the" in one for one in texts
    )
    assert len(texts) == 6
    assert not any("no watercourses" in one for one in texts)


def test_an_empty_layer_proves_no_look_until_somebody_says_so(farm):
    empty = geopandas.GeoDataFrame({"id": []}, geometry=[], crs="EPSG:27700")
    pyogrio.write_dataframe(
        empty, farm / "features.gpkg", layer="water_supplies", geometry_type="Point"
    )
    assert "water_supplies" not in read_farm(farm).farm.features.drawn
    with (farm / "farm.toml").open("a", encoding="utf-8") as file:
        file.write('[features]\nnone_here = ["water_supplies", "spz1"]\n')
    read = read_farm(farm).farm
    assert {"water_supplies", "spz1"} <= read.features.drawn
    assert not any("no wells" in one.text for one in read.notices)


def test_what_is_drawn_cannot_be_said_not_to_be_there(farm):
    with (farm / "farm.toml").open("a", encoding="utf-8") as file:
        file.write('[features]\nnone_here = ["watercourses"]\n')
    with pytest.raises(RefusedError) as caught:
        read_farm(farm)
    assert any("and some are drawn" in one.text for one in caught.value.notices)


def test_a_layer_that_is_there_and_empty_is_told_as_well(farm):
    empty = geopandas.GeoDataFrame({"id": []}, geometry=[], crs="EPSG:27700")
    pyogrio.write_dataframe(
        empty, farm / "features.gpkg", layer="inlets", geometry_type="Point"
    )
    told = [one for one in read_farm(farm).farm.notices if one.code == "layer_empty"]
    assert [one.text.startswith("no drains were drawn") for one in told] == [True]


def test_weather_and_prices_are_read_with_the_farm_and_hashed(farm):
    with (farm / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(
            "[climate]\nrain_mm = [50,50,50,50,50,50,50,50,50,50,50,50]\n"
            "evaporation_mm = [1,2,3,4,5,6,7,8,9,10,11,12]\n"
            "[output]\nprice_file = 'prices.csv'\n"
        )
    (farm / "prices.csv").write_text("item,price\nmesh,4\n", encoding="utf-8")
    read = read_farm(farm)
    assert read.farm.weather.rain_mm.sum() == 600.0
    assert read.farm.prices == {"mesh": 4.0}
    assert "prices.csv" in [name for name, _ in read.provenance.inputs]


def test_numbers_of_spills_are_read(farm):
    with (farm / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(
            "[spill]\nwetted_width_m = [0.3, 1, 2]\n[soil]\ntexture = 'loam'\n"
            "[materials.retention_mm]\nconcrete_worn = [0, 1, 2]\n"
        )
    settings = read_farm(farm).farm.settings
    assert settings.spill.wetted_width_m == [0.3, 1.0, 2.0]
    assert settings.soil.texture == "loam"
    assert settings.materials.retention_mm == {"concrete_worn": [0.0, 1.0, 2.0]}


def test_a_byte_order_mark_and_windows_line_ends_are_read(farm):
    text = TOML.replace("\n", "\r\n")
    (farm / "farm.toml").write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert read_farm(farm).farm.settings.ground.height_unit == "metre"


# What is refused


def test_a_missing_folder_is_refused(tmp_path):
    assert "there is no farm folder 'none'" in only_error(tmp_path / "none")


def test_missing_settings_are_refused(farm):
    (farm / "farm.toml").unlink()
    assert "there is no farm.toml" in only_error(farm)


def test_missing_ground_is_refused(farm):
    (farm / "ground.tif").unlink()
    assert "there is no file 'ground.tif'" in only_error(farm)


def test_a_missing_drawing_is_refused(farm):
    (farm / "features.gpkg").unlink()
    assert (
        "neither features.gpkg nor features.geojson nor a folder features/"
        in only_error(farm)
    )


def test_two_drawings_are_refused(farm):
    (farm / "features").mkdir()
    assert "both features.gpkg and features/" in only_error(farm)


def test_a_drawing_without_sources_is_refused(farm):
    (farm / "features.gpkg").unlink()
    (farm / "features").mkdir()
    assert "no source is drawn" in only_error(farm)


def test_faults_of_ground_and_drawing_are_told_together(farm):
    (farm / "ground.tif").write_text("<VRTDataset/>")
    wall = {"id": ["w"], "kind": ["fence"], "height_m": [-1.0]}
    line = LineString([(350_010, 300_010), (350_190, 300_010)])
    write_layer(farm / "features.gpkg", "barriers", line, wall)
    assert [one.where for one in errors(farm)] == [
        "ground.tif",
        "features.gpkg, barriers, w",
        "features.gpkg, barriers, w",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[ground]\nkinds = 'surface'", "did you mean 'kind'?"),
        (
            "[grond]\nkind = 'surface'",
            "the table [grond] is not known; did you mean 'gr",
        ),
        ("[farm]\nsurvey_date = ''", "it belongs under [ground]"),
        ("[farm]\nzzz = 1", "the key 'zzz' in [farm] is not known; delete it"),
        ("survey_date = ''", "stands above all tables; move it under [ground]"),
        ("ground = 'ground.tif'", "[ground] must be a table"),
        ("[ground]\nkind = 'bare-earth'", "did you mean 'bare_earth'?"),
        ("[ground]\nheight_unit = 'yard'", "one of metre, foot, us_survey_foot"),
        ("[ground]\nfiles = 'ground.tif'", "must be a list in square brackets"),
        ("[ground]\nrebuilt_since_survey = 'no'", "must be true or false"),
        ("[ground]\nposition_error_m = 0", "is 0 and must be more than 0"),
        ("[ground]\nposition_error_m = '1 m'", "must be a number"),
        ("[rules]\nwatercourse_m = -1", "must be at least 0"),
        ("[siting]\nweights = { slope = 'high' }", "[siting] weights.slope is 'high'"),
        ("[sprayer]\ntank_l = 0", "is 0 and must be more than 0"),
        ("[soil]\ntexture = 'clayloam'", "did you mean 'clay_loam'?"),
        ("[spill]\nwetted_width_m = [2, 1, 0.5]", "three numbers in order: low, mid"),
        ("[spill]\nwetted_width_m = [1, 2]", "three numbers in order: low, middle"),
        ("[spill]\ncapture_fraction = 1.5", "is 1.5 and must be at most 1"),
        ("[materials]\nmanning_n = { concret = 0.01 }", "did you mean 'concrete'?"),
        ("[materials.curve_number]\nconcrete = 101", "must be at most 100"),
        ("[materials]\nmanning = { concrete = 1 }", "did you mean 'manning_n'?"),
        ("[ground", "it is no valid TOML"),
        ("[ground]\nkind = 'surface'\nkind = 'surface'", "it is no valid TOML"),
        ("[features]\npath = 'gone.gpkg'", "which is not there"),
    ],
)
def test_a_faulty_setting_is_refused(farm, text, words):
    (farm / "farm.toml").write_text(text)
    sentence = only_error(farm)
    assert words in sentence


def test_an_inlet_with_the_id_of_a_tank_is_refused(farm):
    place = Point(350_100, 300_100)
    inlet = {"id": ["2"], "kind": ["gully"], "drains_to": ["unknown"]}
    write_layer(farm / "features.gpkg", "inlets", place, inlet)
    tank = {"id": ["2"], "capacity_l": [1000.0]}
    write_layer(farm / "features.gpkg", "tanks", place, tank)
    assert "the id '2' is used in inlets and tanks" in only_error(farm)


def test_settings_that_are_not_utf_8_are_refused(farm):
    (farm / "farm.toml").write_bytes("[farm]\nname = 'Tŷ'".encode("utf-16"))
    assert "not written in UTF-8" in only_error(farm)


def test_all_faulty_settings_are_told_at_once(farm):
    (farm / "farm.toml").write_text("[ground]\nkinds = 1\nfile = 2\n[x]\n")
    assert len(errors(farm)) == 3


@pytest.mark.parametrize(
    "name", ["/vsicurl/http://127.0.0.1:9/a.tif", "http://a/b.tif"]
)
def test_an_address_in_the_settings_is_refused(farm, name):
    (farm / "farm.toml").write_text(f"[ground]\nfiles = ['{name}']\n")
    assert "is no file on this machine" in only_error(farm)


def test_a_name_with_line_ends_stays_on_one_line(farm):
    (farm / "farm.toml").write_text('[ground]\nfiles = ["a\\nb\\u001b[2J.tif"]\n')
    assert "there is no file 'a\ufffdb\ufffd[2J.tif'" in only_error(farm)


def test_a_drawing_named_as_ground_is_refused(farm):
    (farm / "farm.toml").write_text("[ground]\nfiles = ['features.gpkg']\n")
    assert "save it as one of .tif, .tiff, .asc" in only_error(farm)


# A new farm


def test_a_new_farm_lacks_only_ground_and_sources(tmp_path):
    write_new_farm(tmp_path / "new", "EPSG:27700")
    assert sorted(one.name for one in (tmp_path / "new").iterdir()) == [
        "farm.toml",
        "features.gpkg",
    ]
    with pytest.raises(RefusedError, match=r"there is no file 'ground.tif'"):
        read_farm(tmp_path / "new")
    write_ground(tmp_path / "new" / "ground.tif")
    assert "no source is drawn" in only_error(tmp_path / "new")


def test_a_new_drawing_has_every_layer_and_field(tmp_path):
    write_new_farm(tmp_path, "EPSG:27700")
    drawing = tmp_path / "features.gpkg"
    assert {name for name, _ in pyogrio.list_layers(drawing)} == set(LAYERS)
    for layer in LAYERS:
        info = pyogrio.read_info(drawing, layer=layer)
        assert list(info["fields"]) == [one.name for one in fields_of(layer)]
        assert info["crs"] == "EPSG:27700"


def test_a_feature_added_to_a_new_drawing_is_read(tmp_path):
    write_new_farm(tmp_path, "EPSG:27700")
    write_ground(tmp_path / "ground.tif")
    row = geopandas.GeoDataFrame(
        SOURCES, geometry=[Point(350_050, 300_100)], crs="EPSG:27700"
    )
    pyogrio.write_dataframe(
        row, tmp_path / "features.gpkg", layer="sources", append=True
    )
    assert read_farm(tmp_path).farm.features.sources[0].id == "fill"


def test_new_settings_list_every_key_and_change_nothing():
    import tomllib

    text = settings_text()
    assert Settings.model_validate(tomllib.loads(text)) == Settings()
    for table in Settings.model_fields:
        model = Settings.model_fields[table].annotation
        for key, field in model.model_fields.items():
            assert f"\n# {key} = " in text
            assert f"\n# {field.description}\n" in text


def test_each_key_of_new_settings_can_be_uncommented():
    import tomllib

    lines = [line.removeprefix("# ") for line in settings_text().splitlines()]
    kept = [line for line in lines if line.startswith("[") or " = " in line]
    Settings.model_validate(tomllib.loads("\n".join(kept)))


def test_a_farm_that_is_there_is_not_overwritten(farm):
    before = (farm / "farm.toml").read_bytes()
    with pytest.raises(OutputError, match=r"holds farm\.toml and features\.gpkg"):
        write_new_farm(farm, "EPSG:27700")
    assert (farm / "farm.toml").read_bytes() == before
    write_new_farm(farm, "EPSG:27700", overwrite=True)
    assert (farm / "farm.toml").read_bytes() != before


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:2225", "http://a.b/c", "EPSG:1"])
def test_a_new_farm_in_no_metres_is_refused(tmp_path, crs):
    with pytest.raises(CrsError, match="EPSG:27700"):
        write_new_farm(tmp_path / "new", crs)
    assert not (tmp_path / "new").exists()
