"""A page around a web map: what the map page and the drawing page have in common."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import folium
from branca.element import Element, MacroElement
from folium.template import Template

from pathways.pages.offline import (
    OfflineFigure,
    json_inside,
    script_tag,
    style_tag,
    template_text,
)
from pathways.pages.relief import Relief


class Handover(MacroElement):
    """Hand folium's elements over to a page's own script.

    Parameters
    ----------
    function : str
        Name of the function that takes them.
    elements : Element
        The map and what lies on it, in the order of the function's parameters.
    """

    _template = Template(
        "{% macro script(this, kwargs) %}{{ this.function }}({{ this.names }});"
        "{% endmacro %}"
    )

    def __init__(self, function: str, *elements: Element) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Handover"
        self.function = function
        self._elements = elements

    @property
    def names(self) -> str:
        """What folium calls the elements in its script."""
        return ", ".join(one.get_name() for one in self._elements)


def bare_map(ground: Relief, *, max_zoom: int, **options: Any) -> folium.Map:
    """Return a map about a ground, without anything from the web.

    Parameters
    ----------
    ground : Relief
        Tells the place.
    max_zoom : int
        How near one may come.
    options
        As Leaflet's, in folium's spelling.

    Returns
    -------
    folium.Map
        Without tiles.
    """
    south, west = ground.south_west
    north, east = ground.north_east
    return folium.Map(
        location=[(south + north) / 2, (west + east) / 2],
        zoom_start=17,
        max_zoom=max_zoom,
        tiles=None,
        zoom_snap=0.25,
        zoom_delta=0.5,
        attribution_control=False,
        **options,
    )


def page_around(
    map_: folium.Map,
    template: str,
    data: Mapping[str, Any],
    words: Mapping[str, str],
    scripts: Sequence[str],
) -> str:
    """Return a page with a map as the text of one HTML file.

    Parameters
    ----------
    map_ : folium.Map
        The map, with what hands it over to the scripts.
    template : str
        Name of the template, such as ``map.html``; its sheet is called alike.
    data : mapping
        What the scripts show; its `title` is the page's.
    words : mapping
        Words of the template.
    scripts : sequence of str
        Names of scripts, in the order in which they use each other.

    Returns
    -------
    str
        A page that asks nothing of the network and runs no script but its own.

    Raises
    ------
    OutputError
        If the page would need something from the internet.
    """
    figure = OfflineFigure(
        template,
        {
            "title": data["title"],
            "words": words,
            "data": json_inside(data),
            "sheet": style_tag(template_text(template.replace(".html", ".css"))),
            "code": "\n".join(script_tag(template_text(name)) for name in scripts),
        },
    )
    figure.add_child(map_)
    return figure.render()
