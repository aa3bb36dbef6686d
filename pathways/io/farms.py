"""One farm folder: read as a whole, or refused with every fault at once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, TypeVar

from pathways.aerial import AerialPicture
from pathways.errors import InputError, Notice, RefusedError
from pathways.farm import Farm
from pathways.features import LAYERS, Features
from pathways.io._findings import Findings, one_line
from pathways.io._settings_file import FILE_NAME, read_settings
from pathways.io.drawings import drawing_path, unread_drawings
from pathways.io.pictures import read_picture
from pathways.io.rasters import GroundRead, read_ground
from pathways.io.vectors import FeaturesRead, read_features
from pathways.io.weather import read_prices, read_weather
from pathways.settings import Settings
from pathways.sizing.weather import Weather

_Read = TypeVar("_Read")

#: What it means that a layer was not drawn.
_ABSENT: Final = {
    "inlets": (
        "no drains were drawn: an unseen gully can carry a spill straight to the ditch"
    ),
    "watercourses": (
        "no watercourses were drawn: what reaches water cannot be told; draw ditches "
        "and streams, dry ones too"
    ),
    "water_supplies": (
        "no wells, boreholes or springs were drawn: distances to them are not judged"
    ),
    "barriers": (
        "no walls, kerbs or banks were drawn: water is taken to run where they may "
        "turn it aside"
    ),
    "buildings": (
        "no buildings were drawn: water is taken to run where they may turn it aside"
    ),
    "exclusions": (
        "no zones were drawn: flood, protection and other zones are not judged"
    ),
    "surfaces": (
        "no surfaces were drawn: whether the ground soaks liquid up is not known"
    ),
}


@dataclass(frozen=True)
class Provenance:
    """What a result was made from.

    Parameters
    ----------
    inputs : tuple of (str, str)
        File name relative to the farm folder, and the SHA-256 of its content.
    operations : tuple of (str, str, float or None)
        Layer, PROJ operation by which it was moved, and its accuracy [m].
    settings : dict
        farm.toml with every default filled in.
    """

    inputs: tuple[tuple[str, str], ...]
    operations: tuple[tuple[str, str, float | None], ...]
    settings: dict[str, Any]


@dataclass(frozen=True)
class FarmRead:
    """A farm, and what it was read from."""

    farm: Farm
    provenance: Provenance


@dataclass
class _Reading:
    """What could be read so far."""

    folder: Path
    notices: list[Notice]
    settings: Settings | None = None
    ground: GroundRead | None = None
    features: FeaturesRead | None = None
    ground_files: tuple[Path, ...] = ()
    features_path: Path | None = None
    weather: Weather | None = None
    prices: dict[str, float] | None = None
    picture: AerialPicture | None = None


def read_farm(folder: Path) -> FarmRead:
    """Read a farm.

    Parameters
    ----------
    folder : Path
        Folder of the farm, or its farm.toml.

    Returns
    -------
    FarmRead
        The farm with its notices, and where everything came from.

    Raises
    ------
    RefusedError
        With everything that is wrong, each in one sentence with its cure.
    """
    reading = _read(Path(folder))
    notices = _told(reading)
    if (
        any(notice.level == "error" for notice in notices)
        or reading.settings is None
        or reading.ground is None
        or reading.features is None
    ):
        raise RefusedError(notices)
    features = reading.features.features
    farm = Farm(
        reading.ground.grid,
        replace(features, drawn=_looked_at(features, _none_here(reading))),
        reading.settings,
        notices,
        reading.weather,
        reading.prices or {},
        reading.picture,
    )
    provenance = Provenance(
        tuple(_hashed(reading)),
        reading.features.operations,
        reading.settings.model_dump(mode="json"),
    )
    return FarmRead(farm, provenance)


def _none_here(reading: _Reading) -> tuple[str, ...]:
    """Return what farm.toml and the drawing say was looked for and is not there."""
    in_settings = reading.settings.features.none_here if reading.settings else []
    in_drawing = reading.features.none_here if reading.features else ()
    return tuple(dict.fromkeys((*in_settings, *in_drawing)))


def _looked_at(features: Features, none_here: Sequence[str]) -> frozenset[str]:
    """Return the layers, and kinds of zones, that were drawn or looked for.

    `pathways new` makes every layer, so an empty one proves no look; and one kind of
    zone that is drawn proves none for another.
    """
    layers = {one for one in LAYERS if one != "exclusions" and getattr(features, one)}
    zones = {one.kind for one in features.exclusions}
    return frozenset(layers | zones | set(none_here))


def _read(folder: Path) -> _Reading:
    """Read as much as can be read, and gather what cannot."""
    if folder.name == FILE_NAME and not folder.is_dir():
        folder = folder.parent
    reading = _Reading(folder, [])
    if not folder.is_dir():
        text = f"there is no farm folder '{folder.name}'; check its name"
        reading.notices.append(Notice("farm_missing", text, "", "error"))
        return reading
    reading.settings = _gather(reading, FILE_NAME, lambda: _settings(reading))
    if reading.settings is None:
        return reading
    settings = reading.settings
    reading.weather = _gather(
        reading,
        settings.climate.daily_file or FILE_NAME,
        lambda: read_weather(folder, settings.climate),
    )
    reading.prices = _gather(
        reading,
        settings.output.price_file,
        lambda: read_prices(folder, settings.output.price_file),
    )
    reading.ground_files = tuple(folder / name for name in settings.ground.files)
    reading.ground = _gather(
        reading,
        ", ".join(settings.ground.files),
        lambda: read_ground(reading.ground_files, settings.ground),
    )
    if reading.ground is not None:
        reading.notices += reading.ground.notices
    if reading.ground is not None and settings.output.aerial_picture:
        grid = reading.ground.grid
        named = settings.output.aerial_picture
        reading.picture = _gather(
            reading, named, lambda: read_picture(folder / named, grid)
        )
    reading.features_path = _gather(
        reading, "features", lambda: drawing_path(folder, settings.features.path)
    )
    if reading.features_path is not None:
        reading.notices += unread_drawings(folder, reading.features_path)
        _read_drawing(reading, reading.features_path)
    return reading


def _told(reading: _Reading) -> tuple[Notice, ...]:
    """Return everything found, each on one line whatever a file is called."""
    return tuple(
        replace(notice, text=one_line(notice.text), where=one_line(notice.where))
        for notice in reading.notices
    )


def _gather(reading: _Reading, where: str, read: Callable[[], _Read]) -> _Read | None:
    """Return what was read, or nothing after its faults were gathered."""
    try:
        return read()
    except RefusedError as error:
        reading.notices += error.notices
    except InputError as error:
        reading.notices.append(Notice("input_refused", str(error), where, "error"))
    except OSError as error:
        text = f"it cannot be read ({error.strerror}); check who may read it"
        reading.notices.append(Notice("input_refused", text, where, "error"))
    return None


def _settings(reading: _Reading) -> Settings:
    """Return the settings, with the notices that they give."""
    path = reading.folder / FILE_NAME
    if not path.is_file():
        msg = (
            f"there is no {FILE_NAME} in '{reading.folder.name}'; write an empty farm "
            "with `pathways new` and copy it from there"
        )
        raise InputError(msg)
    findings = Findings()
    settings = read_settings(path, findings)
    reading.notices += findings.notices
    return settings


def _read_drawing(reading: _Reading, path: Path) -> None:
    """Read the drawing; where there is no ground to place it on, it is checked only."""
    grid = None if reading.ground is None else reading.ground.grid
    reading.features = _gather(reading, path.name, lambda: read_features(path, grid))
    if reading.features is not None and reading.settings is not None:
        named = _none_here(reading)
        reading.notices += reading.features.notices
        reading.notices += _absent(reading.features.features, named, path.name)


def _absent(features: Features, named: Sequence[str], where: str) -> Iterator[Notice]:
    """Tell what was not drawn and matters, and what is drawn though it is not there."""
    zones = {one.kind for one in features.exclusions}
    for name in named:
        if name in zones or (name in LAYERS and getattr(features, name)):
            text = (
                f"none_here (under [features], or in the drawing) says that there are "
                f"no {name.replace('_', ' ')}, and some are drawn; correct one of the "
                "two"
            )
            yield Notice("drawn_and_not_there", text, where, "error")
    if not features.sources:
        text = (
            "no source is drawn, so there is nothing to trace; draw the filling point "
            "in the layer sources"
        )
        yield Notice("no_sources", text, where, "error")
    for layer, text in _ABSENT.items():
        if layer in named:
            continue
        if layer not in features.drawn:
            yield Notice("layer_absent", text, where)
        elif not getattr(features, layer):
            cure = (
                "the layer is there, but empty: if you looked and there are none, say "
                "so under [features] none_here"
            )
            yield Notice("layer_empty", f"{text} ({cure})", where)


def _hashed(reading: _Reading) -> Iterator[tuple[str, str]]:
    """Give each file that was read, with the SHA-256 of its content."""
    files = [reading.folder / FILE_NAME, *reading.ground_files]
    drawing = reading.features_path
    if drawing is not None:
        files += sorted(drawing.iterdir()) if drawing.is_dir() else [drawing]
    if reading.settings is not None:
        named = (
            reading.settings.rules.file,
            reading.settings.climate.daily_file,
            reading.settings.output.price_file,
            reading.settings.output.aerial_picture,
        )
        files += [reading.folder / one for one in named if one]
    for path in files:
        if path.is_file():
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            # A file from elsewhere gets its name only: results tell no paths.
            inside = path.is_relative_to(reading.folder)
            name = path.relative_to(reading.folder) if inside else Path(path.name)
            yield name.as_posix(), digest
