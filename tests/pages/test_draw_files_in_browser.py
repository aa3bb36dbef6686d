"""Files of the drawing page, and what the browser keeps: nothing is lost or run."""

from __future__ import annotations

import json
import shutil

import pytest
from drawer import draw_a_yard
from selenium.webdriver.support.ui import WebDriverWait

from pathways.pages import draw_words

HOSTILE = (
    "</script><script>window.ran = 1</script>",
    "${window.ran = 1}{name}{{7*7}}",
    "\\u0022\\\"'`;window.ran=1;//",
    '<img src=x onerror="window.ran=1">',
    "<!--<script>",
    "Ffynnon Ŵyr Tŷ'n-y-Coed",
    "]]>\u2028\u2029&lt;b&gt;&amp;",
    "javascript:window.ran=1",
)


# Files and what the browser keeps -----------------------------------------------------


def test_opened_file_is_saved_byte_for_byte(drawer, tmp_path):
    draw_a_yard(drawer)
    saved = tmp_path / "saved.geojson"
    shutil.move(drawer.save(), saved)
    # What somebody added to a thing by hand stays with it, where it stood.
    text = saved.read_text("utf-8")
    assert text.count('"volume_l":600}') == 1
    text = text.replace('"volume_l":600}', '"volume_l":600,"laid":1987}')
    saved.write_text(text, "utf-8")
    drawer.press(draw_words.PAGE["delete"], "#form")
    drawer.open(saved)
    assert draw_words.PAGE["open_ask"] in drawer.told()
    drawer.press(draw_words.PAGE["open_replace"])
    assert drawer.save().read_bytes() == saved.read_bytes()


def test_added_file_gets_ids_of_its_own_and_its_outlets_follow(drawer, tmp_path):
    draw_a_yard(drawer)
    saved = tmp_path / "saved.geojson"
    shutil.move(drawer.save(), saved)
    drawer.open(saved)
    drawer.press(draw_words.PAGE["open_add"])
    features = drawer.features()
    ids = [one["properties"]["id"] for one in features]
    assert len(ids) == len(set(ids)) == 12
    gullies = [
        one["properties"] for one in features if one["properties"]["layer"] == "inlets"
    ]
    assert [(one["id"], one["drains_to"]) for one in gullies] == [
        ("G1", "P1"),
        ("G2", "P2"),
    ]


def refuse_cases():
    point = {"type": "Point", "coordinates": [-2.7, 52.6]}
    good = {"type": "Feature", "properties": {"layer": "sources"}, "geometry": point}
    whole = {"type": "FeatureCollection", "features": [good]}

    def with_feature(**changes):
        return json.dumps(whole | {"features": [good | changes]})

    yield "not ours", json.dumps(whole), "not_ours"
    other = {"farm_pathways": {"placed_by": "some other operation"}}
    yield "elsewhere", json.dumps(whole | other), "not_ours"
    yield "text", "no drawing", "not_json"
    yield "list", "[]", "not_collection"
    yield "metres", json.dumps(whole | {"crs": {"type": "name"}}), "not_degrees"
    yield "no layer", with_feature(properties={}), "bad_feature"
    yield "prototype", with_feature(properties={"layer": "__proto__"}), "bad_feature"
    yield "null", with_feature(geometry=None), "bad_feature"
    yield (
        "line",
        with_feature(geometry={"type": "LineString", "coordinates": [[1, 2], [3, 4]]}),
        "bad_feature",
    )
    yield (
        "far",
        with_feature(geometry={"type": "Point", "coordinates": [350000, 300000]}),
        "bad_feature",
    )
    yield (
        "words",
        with_feature(geometry={"type": "Point", "coordinates": ["a", "b"]}),
        "bad_feature",
    )


@pytest.mark.parametrize(
    ("text", "why"),
    [one[1:] for one in refuse_cases()],
    ids=[c[0] for c in refuse_cases()],
)
def test_file_that_is_not_ours_is_refused_and_nothing_is_lost(
    drawer, tmp_path, text, why
):
    drawer.draw("sources", "Point", (60, 60))
    file = tmp_path / "other.geojson"
    file.write_text(text, "utf-8")
    drawer.open(file)
    expected = draw_words.PAGE[why].format(number=1)
    assert drawer.told() == draw_words.PAGE["open_refused"].format(
        file="other.geojson", why=expected
    )
    assert len(drawer.features()) == 1
    drawer.browser.listen()
    assert drawer.browser.console == []


def test_drawing_is_there_again_after_the_page_is_loaded_anew(drawer, drawing_page):
    draw_a_yard(drawer)
    assert draw_words.PAGE["never_saved"] in drawer.one("#saved").text
    drawer.browser.open(drawing_page)
    assert "Carried on" in drawer.told()
    assert draw_words.PAGE["never_saved"] in drawer.one("#saved").text
    drawer.press(draw_words.PAGE["start_again"])
    assert not drawer.all("#drawn button")
    drawer.press(draw_words.PAGE["undo"])
    assert len(drawer.features()) == 6
    assert draw_words.PAGE["saved"].split("{")[0] in drawer.one("#saved").text


def test_page_with_unsaved_work_asks_before_it_is_left(drawer):
    asks = """
        const event = new Event('beforeunload', {cancelable: true});
        window.dispatchEvent(event);
        return event.defaultPrevented;
    """
    assert drawer.run(asks) is False
    drawer.draw("sources", "Point", (60, 60))
    assert drawer.run(asks) is True
    drawer.save()
    assert drawer.run(asks) is False


def test_browser_that_keeps_nothing_is_told_and_drawn_in(drawer, drawing_page):
    script = (
        "Object.defineProperty(window, 'localStorage', {get() { throw new Error(); }});"
    )
    added = drawer.driver.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument", {"source": script}
    )
    try:
        drawer.browser.open(drawing_page)
        drawer.draw("sources", "Point", (60, 60))
        assert draw_words.PAGE["not_kept"] in drawer.one("#saved").text
        assert len(drawer.features()) == 1
        drawer.browser.listen()
        assert drawer.browser.console == []
    finally:
        drawer.driver.execute_cdp_cmd(
            "Page.removeScriptToEvaluateOnNewDocument",
            {"identifier": added["identifier"]},
        )


def test_page_that_is_open_twice_is_told(drawer):
    """A storage event comes from another window only; here it is sent by hand."""
    drawer.run(
        "const key = Object.keys(localStorage)[0];"
        "window.dispatchEvent(new StorageEvent('storage', {key}));"
    )
    assert drawer.told() == draw_words.PAGE["twice"]


GPX = """<?xml version="1.0"?>
<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" creator="a phone">
<wpt lat="52.596" lon="-2.7387"><name>{name}</name></wpt>
<rte><rtept lat="52.596" lon="-2.7387"/><rtept lat="52.5961" lon="-2.7386"/></rte>
<trk><trkseg><trkpt lat="52.596" lon="-2.7387"/><trkpt lat="52.59605" lon="-2.7385"/>
</trkseg></trk></gpx>"""


def lay(drawer, tmp_path, text):
    file = tmp_path / "walk.gpx"
    file.write_text(text, "utf-8")
    drawer.one("#track").send_keys(str(file))
    WebDriverWait(drawer.driver, 10).until(lambda _: drawer.one("#told").is_displayed())


def test_track_of_a_phone_lies_under_the_drawing_with_a_caution(drawer, tmp_path):
    lay(drawer, tmp_path, GPX.format(name="Gate &lt;b&gt;"))
    assert "several metres off" in drawer.told()
    assert len(drawer.all(".leaflet-pane-under-pane path")) == 5
    assert "Gate <b>" in [one.text for one in drawer.all(".label")]
    assert drawer.features() == []


def test_track_of_somewhere_else_is_not_laid(drawer, tmp_path):
    lay(drawer, tmp_path, GPX.format(name="Gate").replace("52.", "12."))
    assert "outside this ground" in drawer.told()
    assert not drawer.all(".leaflet-pane-under-pane path")


@pytest.mark.parametrize("text", ["no XML", "<kml/>", "<gpx><trk>", "", "{}"])
def test_track_that_is_no_gpx_is_refused(drawer, tmp_path, text):
    lay(drawer, tmp_path, text)
    assert drawer.told() == draw_words.PAGE["gpx_refused"].format(file="walk.gpx")


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_kept_and_never_run(drawer, drawing_page, tmp_path, text):
    drawer.draw("sources", "Point", (60, 60))
    drawer.answer(kind="other", name="here")
    file = tmp_path / "hostile.geojson"
    saved = json.loads(drawer.save().read_text("utf-8"))
    properties = saved["features"][0]["properties"]
    properties |= {"id": text, "name": text, "note": {"__proto__": text, text: [text]}}
    properties["door"] = text
    file.write_text(json.dumps(saved), "utf-8")
    drawer.open(file)
    drawer.press(draw_words.PAGE["open_replace"])
    drawer.run("document.querySelector('#drawn button').click()")
    assert text in drawer.one("#form h2").get_property("textContent")
    field = drawer.one("#form [name=name]")
    assert field.get_property("value") == text.replace("\n", "")
    assert drawer.one(".label").get_property("textContent") == f"{text} {text}"
    assert drawer.features()[0]["properties"] == properties
    drawer.browser.open(drawing_page)
    assert drawer.features()[0]["properties"] == properties
    drawer.browser.listen()
    assert drawer.run("return window.ran") is None
    assert drawer.browser.console == []


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_that_is_typed_is_saved_as_it_is(drawer, text):
    drawer.draw("watercourses", "LineString", (20, 20), (60, 20))
    drawer.answer(name=text)
    assert drawer.features()[0]["properties"]["name"] == text
    assert drawer.run("return window.ran") is None
