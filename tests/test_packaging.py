"""What is installed, and how light it is to import."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

import pathways

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
HEAVY = ("numba", "rasterio", "geopandas", "pandas", "pyogrio", "scipy", "folium")


def test_every_package_folder_is_listed():
    listed = set(PROJECT["tool"]["setuptools"]["packages"])
    folders = {
        ".".join(path.parent.relative_to(ROOT).parts)
        for path in (ROOT / "pathways").rglob("__init__.py")
    }
    assert listed == folders | {"pathways_cli", "pathways_samples"}


def test_public_names_are_sorted_and_exist():
    assert pathways.__all__ == sorted(pathways.__all__)
    for name in pathways.__all__:
        assert getattr(pathways, name) is not None


def test_unknown_public_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'traec'"):
        pathways.traec  # noqa: B018


@pytest.mark.parametrize(
    "what",
    ["import pathways", "from pathways_cli.main import group; group.get_help"],
)
def test_import_is_light(what):
    told = (
        f"{what}; import sys; print(*[one for one in {HEAVY!r} if one in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", told], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == ""


def test_help_is_light():
    told = (
        "import sys; sys.argv = ['pathways', '--help']\n"
        "from pathways_cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', *[one for one in {HEAVY!r} if one in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", told], capture_output=True, text=True, check=True
    )
    assert "assess" in done.stdout
    assert done.stdout.strip().endswith("LOADED")


def test_version_is_that_of_the_project():
    assert metadata.version("farm-pathways") == PROJECT["project"]["version"]


def test_constraints_name_no_host_and_pin_what_is_needed():
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert all("==" in line and "://" not in line for line in pins)
    pinned = {line.split("==")[0].lower().replace("_", "-") for line in pins}
    for need in ("numpy", "numba", "rasterio", "shapely", "folium", "click", "pyogrio"):
        assert need in pinned
