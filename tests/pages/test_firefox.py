"""The pages in a second engine: Firefox ESR, cut off from the network.

Spoken to without a driver, by W3C WebDriver BiDi (https://www.w3.org/TR/webdriver-bidi/)
over the web socket that Firefox itself opens.
"""

from __future__ import annotations

import base64
import io
import itertools
import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import websocket
from PIL import Image

from pathways.pages import palette, words
from pathways.pages.map import map_page
from pathways.pages.report import report_page
from pathways.pages.sizes import sizes_page
from tests.pages.conftest import page_to_draw

#: A new page is one line here: what makes it, and its heading for the farm by hand.
PAGES = {
    "map.html": (map_page, "Sea Valley Farm"),
    "report.html": (report_page, "Where a spill would run: Sea Valley Farm"),
    "sizes.html": (sizes_page, "Pad, tank and bed for Sea Valley Farm"),
    "draw.html": (page_to_draw, "Draw the yard: Sea Valley Farm"),
}

SIZES = [(1280, 900), (390, 844)]

#: All that is asked of the network goes to a port at which nobody listens.
CUT_OFF = "".join(
    f'user_pref("network.proxy.{name}", {value});\n'
    for name, value in (
        ("type", "1"),
        ("http", '"127.0.0.1"'),
        ("http_port", "9"),
        ("ssl", '"127.0.0.1"'),
        ("ssl_port", "9"),
    )
)


class Firefox:
    """One tab of Firefox, what its console said and what it asked for."""

    def __init__(self, socket: websocket.WebSocket) -> None:
        self._socket = socket
        self._numbers = itertools.count(1)
        self.events: list[dict[str, Any]] = []
        self._call("session.new", capabilities={})
        kinds = ["log.entryAdded", "network.beforeRequestSent"]
        self._call("session.subscribe", events=kinds)
        tree = self._call("browsingContext.getTree")
        self._tab = tree["contexts"][0]["context"]

    def _call(self, method: str, **parameters: Any) -> dict[str, Any]:
        number = next(self._numbers)
        command = {"id": number, "method": method, "params": parameters}
        self._socket.send(json.dumps(command))
        while (answer := json.loads(self._socket.recv())).get("id") != number:
            self.events.append(answer)
        assert answer["type"] == "success", answer
        return dict(answer["result"])

    def open(self, address: str, *, width: int, height: int) -> None:
        """Open a page in a window of a given size."""
        size = {"width": width, "height": height}
        self._call("browsingContext.setViewport", context=self._tab, viewport=size)
        self.events.clear()
        self._call(
            "browsingContext.navigate", context=self._tab, url=address, wait="complete"
        )

    def ask(self, script: str) -> Any:
        """Return what an expression comes to."""
        answer = self._call(
            "script.evaluate",
            expression=script,
            target={"context": self._tab},
            awaitPromise=False,
        )
        assert answer["type"] == "success", answer
        return answer["result"].get("value")

    def picture(self) -> Image.Image:
        """Return what is seen."""
        shot = self._call("browsingContext.captureScreenshot", context=self._tab)
        return Image.open(io.BytesIO(base64.b64decode(shot["data"]))).convert("RGB")

    def of(self, method: str) -> list[dict[str, Any]]:
        """Return the events of a kind since the page was opened."""
        return [one["params"] for one in self.events if one.get("method") == method]


@pytest.fixture(scope="module")
def firefox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    program = shutil.which("firefox-esr")
    if program is None:
        reason = "Firefox ESR is not installed, so no page was opened in it"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    profile = tmp_path_factory.mktemp("firefox")
    (profile / "user.js").write_text(CUT_OFF, encoding="utf-8")
    said = profile / "said.txt"
    command = (program, "--headless", "--no-remote", "--profile", str(profile))
    with said.open("w", encoding="utf-8") as told:
        running = subprocess.Popen(
            [*command, "--remote-debugging-port", "0"], stdout=told, stderr=told
        )
    try:
        socket = websocket.create_connection(
            f"{listening(running, said)}/session", suppress_origin=True, timeout=60
        )
        yield Firefox(socket)
        socket.close()
    finally:
        running.terminate()
        running.wait(timeout=30)


def listening(running: subprocess.Popen[bytes], said: Path) -> str:
    """Wait until Firefox says where it listens, at the most a minute."""
    mark = "WebDriver BiDi listening on "
    for _ in range(300):
        for line in said.read_text(encoding="utf-8").splitlines():
            if line.startswith(mark):
                return line.removeprefix(mark)
        try:
            running.wait(timeout=0.2)
        except subprocess.TimeoutExpired:
            continue
        break
    return pytest.fail(f"Firefox did not start: {said.read_text(encoding='utf-8')}")


@pytest.fixture
def opened(firefox, assessment, tmp_path):
    def opened_at(name, width, height):
        page = tmp_path / name
        page.write_text(PAGES[name][0](assessment), encoding="utf-8")
        firefox.open(page.as_uri(), width=width, height=height)
        return firefox

    return opened_at


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_page_opens_without_a_word_and_asks_nothing(opened, name, width, height):
    seen = opened(name, width, height)
    assert seen.ask("document.querySelector('h1').textContent") == PAGES[name][1]
    assert seen.of("log.entryAdded") == []
    asked = [one["request"]["url"] for one in seen.of("network.beforeRequestSent")]
    assert {one.split(":")[0] for one in asked} <= {"file", "data"}


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_page_is_never_wider_than_its_window(opened, name, width, height):
    seen = opened(name, width, height)
    assert seen.ask("document.documentElement.scrollWidth") <= width


def test_a_word_and_a_request_would_be_heard(firefox, tmp_path):
    page = tmp_path / "loud.html"
    page.write_text(
        "<!doctype html><img src='https://a.invalid/x.png' alt=''>"
        "<script>console.error('heard')</script>",
        encoding="utf-8",
    )
    firefox.open(page.as_uri(), width=400, height=300)
    assert [one["text"] for one in firefox.of("log.entryAdded")] == ["heard"]
    asked = [one["request"]["url"] for one in firefox.of("network.beforeRequestSent")]
    assert "https://a.invalid/x.png" in asked


def test_story_is_told_and_changes_with_the_row(opened):
    seen = opened("map.html", 1280, 900)
    assert "Sprayer filling point" in seen.ask(
        "document.querySelector('#story h2').textContent"
    )
    seen.ask("document.querySelectorAll('#sources tbody button')[1].click()")
    assert "Midden" in seen.ask("document.querySelector('#story h2').textContent")
    verdict = seen.ask("document.querySelector('#story .verdict').textContent")
    assert words.OUTCOMES["not_known"] in verdict


def test_way_is_drawn_in_its_colour(opened):
    picture = opened("map.html", 1280, 900).picture()
    pixels = {colour: count for count, colour in picture.getcolors(2**24)}
    colour = str(palette.OUTCOMES["reaches_water"]["colour"])
    assert pixels.get(tuple(bytes.fromhex(colour[1:])), 0) > 100
