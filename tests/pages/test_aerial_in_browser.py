"""The ground from above under the map, as the farm's settings name it."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.enums import ColorInterp
from rasterio.transform import from_origin

from pathways.errors import RefusedError
from pathways.io.farms import read_farm
from pathways.pages.map import map_page

DEMO = Path(__file__).parents[2] / "data-samples" / "demo-farm"


@pytest.fixture
def farm_with_picture(tmp_path):
    """Return a maker of a demo farm with a picture, red in its north-west quarter."""

    def make(west_shift_m: float = 0.0) -> Path:
        folder = tmp_path / "farm"
        shutil.copytree(DEMO, folder)
        settings = folder / "farm.toml"
        text = settings.read_text("utf-8") + '\n[output]\naerial_picture = "air.tif"\n'
        settings.write_text(text, "utf-8")
        with rasterio.open(folder / "ground.tif") as ground:
            bounds, crs = ground.bounds, ground.crs
        rows, columns = 120, 150
        bands = np.full((3, rows, columns), 90, np.uint8)
        bands[0, : rows // 2, : columns // 2] = 220
        size_m = (bounds.right - bounds.left) / columns
        with rasterio.open(
            folder / "air.tif",
            "w",
            driver="GTiff",
            width=columns,
            height=rows,
            count=3,
            dtype="uint8",
            crs=crs,
            transform=from_origin(
                bounds.left + west_shift_m, bounds.top, size_m, size_m
            ),
            photometric="RGB",
        ) as picture:
            picture.write(bands)
            picture.colorinterp = (
                ColorInterp.red,
                ColorInterp.green,
                ColorInterp.blue,
            )
        return folder

    return make


def test_picture_lies_on_the_relief_and_can_be_switched_off(
    browser, assessment, farm_with_picture
):
    read = read_farm(farm_with_picture())
    farm = dataclasses.replace(
        assessment.farm, grid=read.farm.grid, picture=read.farm.picture
    )
    page = map_page(
        dataclasses.replace(assessment, farm=farm, network=None, pathways=(), sites=())
    )
    browser.open(page)
    browser.listen()
    frames = browser.driver.execute_script(
        "return [...document.querySelectorAll('img.leaflet-image-layer')]"
        ".map((one) => one.getBoundingClientRect())"
        ".map((box) => [box.left, box.top, box.width])"
    )
    # Both begin at the north-west corner of the ground; the picture is as wide, but for
    # a part of one of its points (3 m, 32 pixels here).
    relief, picture = frames
    assert picture[:2] == pytest.approx(relief[:2], abs=1.5)
    assert picture[2] == pytest.approx(relief[2], abs=8)
    assert browser.console == []
    assert {one.split(":")[0] for one in browser.requests} <= {"file", "data"}
    browser.driver.execute_script(
        "[...document.querySelectorAll('.legend label')].find((one) =>"
        " one.textContent === 'Aerial picture').querySelector('input').click()"
    )
    assert not browser.driver.execute_script(
        "return document.querySelectorAll('img.aerial').length"
    )


def test_picture_of_elsewhere_is_refused_by_its_name(farm_with_picture):
    with pytest.raises(RefusedError, match="does not lie on the ground") as refused:
        read_farm(farm_with_picture(west_shift_m=50_000))
    assert any(one.where == "air.tif" for one in refused.value.notices)


def test_picture_that_is_not_there_is_refused(farm_with_picture):
    folder = farm_with_picture()
    (folder / "air.tif").unlink()
    with pytest.raises(RefusedError, match=r"air\.tif"):
        read_farm(folder)
