"""Find the layers of a drawing and read them as they are stored."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from pathways.errors import CrsError, FeatureError, InputError
from pathways.features import LAYERS, fields_of
from pathways.io._findings import Findings, did_you_mean, folded
from pathways.io._gdal import (
    VECTOR_ENDINGS,
    check_path,
    describe_read_error,
    driver_of,
    pyogrio,
)
from pathways.io._geojson import geojson_crs
from pathways.io.crs import flat_crs, parse_crs

_FAULTS: Final = (
    pyogrio.errors.DataSourceError,
    pyogrio.errors.DataLayerError,
    pyogrio.errors.FeatureError,
    pyogrio.errors.FieldError,
    pyogrio.errors.GeometryError,
)
MOST_FEATURES: Final = 1_000_000
MOST_VERTICES: Final = 50_000_000

#: Files of a folder of layers that belong to another file, or to nobody.
_COMPANIONS: Final = (".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".qmd")
_NEEDED_BESIDE_SHAPEFILE: Final = (".shx", ".dbf")
#: A column name in a Shapefile has at most 10 letters (dBASE III).
_SHAPEFILE_NAME_LETTERS: Final = 10
#: Tables that GIS programs add to a GeoPackage for themselves.
_NOT_OURS: Final = ("layer_styles", "qgis_projects")


@dataclass(frozen=True)
class LayerFile:
    """Where one layer is stored: `stored_as` is its name in the file.

    `crs` is given for GeoJSON, whose system is read before GDAL sees the file.
    """

    layer: str
    path: Path
    stored_as: str
    crs: CRS | None = None


@dataclass(frozen=True)
class RawLayer:
    """One layer as it is stored: coordinates and values untouched."""

    layer: str
    file_name: str
    crs: CRS
    geometries: NDArray[np.object_]  # shapely geometries, None where null
    unreadable: NDArray[np.bool_]  # where a geometry is there but cannot be read
    columns: dict[str, NDArray[Any]]
    fids: NDArray[np.int64]


def find_layers(path: Path, findings: Findings) -> list[LayerFile]:
    """Return where each layer is stored, in the order of the data contract."""
    found = _in_folder(path, findings) if path.is_dir() else _in_file(path, findings)
    by_layer: dict[str, list[LayerFile]] = {}
    for one in found:
        by_layer.setdefault(one.layer, []).append(one)
    for layer, several in by_layer.items():
        if len(several) > 1:
            names = " and ".join(
                f"'{one.path.name}:{one.stored_as}'" for one in several
            )
            text = f"the layer is there more than once, as {names}; keep one"
            findings.error("layer_twice", text, path.name, layer)
    return [by_layer[layer][0] for layer in LAYERS if layer in by_layer]


def _in_file(path: Path, findings: Findings) -> Iterator[LayerFile]:
    """Find the layers of one GeoPackage."""
    try:
        check_path(path, VECTOR_ENDINGS)
        if driver_of(path) != "GPKG":
            msg = (
                "a single file of features must be a GeoPackage or a GeoJSON file; put "
                "others into a folder features/, one file a layer"
            )
            raise FeatureError(msg)
        names = [str(name) for name in _list_layers(path)]
    except InputError as error:
        findings.error("features_refused", str(error), path.name)
        return
    for name in names:
        layer = _layer_called(name, path, findings)
        if layer:
            yield LayerFile(layer, path, name)


def _in_folder(path: Path, findings: Findings) -> Iterator[LayerFile]:
    """Find the layers of a folder, one file each."""
    for file in sorted(path.iterdir()):
        ending = file.suffix.lower()
        if file.name.startswith(".") or file.is_dir() or ending in _COMPANIONS:
            continue
        if ending not in VECTOR_ENDINGS:
            if folded(file.stem) in LAYERS:
                text = (
                    f"'{file.name}' is of a kind that is not read; save it as one of "
                    f"{', '.join(VECTOR_ENDINGS)}"
                )
                findings.error("features_refused", text, file.name)
            continue
        layer = _layer_called(file.stem, file, findings)
        if not layer:
            continue
        try:
            check_path(file, VECTOR_ENDINGS)
            _check_companions(file)
            crs = geojson_crs(file) if driver_of(file) == "GeoJSON" else None
            yield LayerFile(layer, file, _stored_name(file, layer), crs)
        except InputError as error:
            findings.error(refusal_code(error), str(error), file.name, layer)


def refusal_code(error: InputError) -> str:
    """Return the code of the notice that tells of an error."""
    return "crs_refused" if isinstance(error, CrsError) else "features_refused"


def _layer_called(name: str, path: Path, findings: Findings) -> str:
    """Return the layer that a name means, or nothing and a warning."""
    layer = folded(name)
    if layer in LAYERS:
        return layer
    if layer not in _NOT_OURS:
        hint = did_you_mean(name, LAYERS)
        text = f"the layer '{name}' is not known and was not read{hint}"
        findings.warning("layer_unknown", text, path.name)
    return ""


@contextmanager
def _asking_gdal() -> Iterator[list[str]]:
    """Turn what GDAL cannot read into our own error; give what it only warns of.

    Text that is no UTF-8 makes pyogrio fail in two further ways, the last of them a
    slip of its own where a projection file is such text.
    """
    told: list[str] = []
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            yield told
    except (UnicodeDecodeError, UnboundLocalError) as error:
        msg = (
            "text in it is not written in UTF-8, or it is damaged: export it again "
            "with UTF-8 as its encoding"
        )
        raise FeatureError(msg) from error
    except _FAULTS as error:
        msg = (
            f"it cannot be read ({describe_read_error(error)}); it is damaged or cut "
            "short: copy or export it again"
        )
        raise FeatureError(msg) from error
    # A RuntimeWarning is GDAL's; other kinds are pyogrio's on what we do not ask for.
    told += [str(one.message) for one in caught if one.category is RuntimeWarning]


def _list_layers(path: Path) -> list[str]:
    with _asking_gdal():
        return [str(name) for name in pyogrio.list_layers(path)[:, 0]]


def _check_companions(file: Path) -> None:
    """Refuse a Shapefile without its other parts."""
    if driver_of(file) != "ESRI Shapefile":
        return
    endings = {
        one.suffix.lower() for one in file.parent.iterdir() if one.stem == file.stem
    }
    for ending in _NEEDED_BESIDE_SHAPEFILE:
        if ending not in endings:
            msg = (
                f"the part '{file.stem}{ending}' of the Shapefile is missing; copy all "
                "its parts"
            )
            raise FeatureError(msg)


def _stored_name(file: Path, layer: str) -> str:
    """Return the name of the only layer in a file, or of the one called like it."""
    names = _list_layers(file)
    if len(names) == 1:
        return names[0]
    if not names:
        msg = "it holds no layer; it is damaged or empty: export it again"
        raise FeatureError(msg)
    called = [name for name in names if folded(name) == layer]
    if len(called) != 1:
        msg = (
            f"it holds {len(names)} layers and none is called '{layer}'; keep one "
            "layer a file"
        )
        raise FeatureError(msg)
    return called[0]


def read_raw(file: LayerFile, findings: Findings) -> RawLayer:
    """Return one layer as it is stored.

    Raises
    ------
    FeatureError, CrsError
        If it cannot be read, is too large, or has no place on Earth.
    """
    with _asking_gdal() as told:
        info = pyogrio.read_info(
            file.path, layer=file.stored_as, force_feature_count=True
        )
        _check_info(info)
        crs = _crs_of(file, info["crs"])
        fields = field_columns(file, [str(name) for name in info["fields"]], findings)
        meta, fids, stored, values = pyogrio.raw.read(
            file.path,
            layer=file.stored_as,
            columns=list(fields.values()),
            return_fids=True,
            datetime_as_string=True,
        )
    for one in sorted(set(told)):
        text = f"a doubt while reading it: {describe_read_error(one)}"
        findings.warning("read_with_doubt", text, file.path.name, file.layer)
    by_column = dict(zip(map(str, meta["fields"]), values, strict=True))
    geometries = shapely.from_wkb(stored, on_invalid="ignore")
    if int(shapely.get_num_coordinates(geometries).sum()) > MOST_VERTICES:
        msg = f"it has more than {MOST_VERTICES:,} vertices; cut out the farm"
        raise FeatureError(msg)
    return RawLayer(
        file.layer,
        file.path.name,
        crs,
        geometries,
        np.array([one is not None for one in stored], bool)
        & shapely.is_missing(geometries),
        {field: by_column[column] for field, column in fields.items()},
        fids,
    )


def _check_info(info: dict[str, Any]) -> None:
    """Refuse a layer without geometry or with too many features."""
    if info["geometry_type"] is None:
        msg = "it is a table without geometry; draw it as a layer of points or shapes"
        raise FeatureError(msg)
    if info["features"] > MOST_FEATURES:
        msg = (
            f"it has {info['features']:,} features and at most {MOST_FEATURES:,} are "
            "read; cut out the farm"
        )
        raise FeatureError(msg)


def _crs_of(file: LayerFile, said: str | None) -> CRS:
    """Return the layer's system in plan."""
    if file.crs is not None:
        return file.crs
    if not said:
        msg = (
            "it has no coordinate reference system; set in a GIS program the one that "
            "it was drawn in"
        )
        raise CrsError(msg)
    crs = flat_crs(parse_crs(said))
    if not (crs.is_projected or crs.is_geographic) or (
        crs.name.lower().startswith("undefined")
    ):
        msg = (
            f"its coordinate reference system '{crs.name}' names no place on Earth; "
            "set in a GIS program the one that it was drawn in"
        )
        raise CrsError(msg)
    return crs


def field_columns(
    file: LayerFile, columns: list[str], findings: Findings
) -> dict[str, str]:
    """Return which stored column holds which field, and tell of likely misspellings."""
    fields = [one.name for one in fields_of(file.layer)]
    found = {name: name for name in columns if name in fields}
    for column in columns:
        name = folded(column)
        if name in fields and name not in found:
            found[name] = column
    shapefile = driver_of(file.path) == "ESRI Shapefile"
    where = (file.path.name, file.layer)
    for column in columns:
        if column in found.values():
            continue
        absent = [name for name in fields if name not in found]
        start = folded(column)
        cut = [one for one in absent if folded(one[:_SHAPEFILE_NAME_LETTERS]) == start]
        if shapefile and len(cut) == 1:
            found[cut[0]] = column
            text = f"the column '{column}' was read as '{cut[0]}', cut to 10 letters"
            findings.warning("column_name_cut", text, *where)
            continue
        hint = did_you_mean(column, absent)
        if hint:
            text = f"the column '{column}' is not known and was not read{hint}"
            findings.warning("column_unknown", text, *where)
    return found
