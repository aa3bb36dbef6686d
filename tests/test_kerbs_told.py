"""A way that a kerb guides is told to run along it."""

from __future__ import annotations

from shapely import LineString, Point

from pathways.assessment import assess_farm
from pathways.farm import Farm, Tables
from pathways.features import Barrier, Features, Source, Watercourse
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed, read_elevation_errors, read_materials
from pathways.pages.story import way_story
from pathways.settings import Settings


def test_kerb_that_guides_a_way_is_named_on_its_stretch_only(plane):
    """The ground falls south-east to a kerb that ends before the water."""
    grid = plane(lambda east, north: 20 + 0.02 * north - 0.02 * east)
    features = Features(
        sources=(Source(geometry=Point(30, 80), id="F1", kind="filling_point"),),
        watercourses=(
            Watercourse(geometry=LineString([(0, 5), (99, 5)]), id="W1", kind="ditch"),
        ),
        barriers=(
            Barrier(
                geometry=LineString([(45, 95), (45, 30)]),
                id="K1",
                kind="kerb",
                height_m=0.3,
            ),
        ),
    )
    farm = Farm(grid=grid, features=features, settings=Settings())
    tables = Tables(
        read_assumed(),
        read_elevation_errors(),
        read_rulebook("generic"),
        read_weights(),
        read_materials(),
    )
    found = assess_farm(farm, tables, judge_sites=False)
    pathway, spill = found.told[0]
    (kerb,) = spill.kerbs
    assert kerb.id == "K1"
    from_m, until_m = kerb.along[0][0], kerb.along[-1][1]
    assert 0 < from_m < until_m < pathway.length_m
    posts = way_story(pathway, features, spill).posts
    assert ", along kerb K1" in posts[0].then.says
    bare = way_story(pathway, features, None).posts
    assert "along" not in bare[0].then.says
