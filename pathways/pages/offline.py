"""A folium page that needs no network and runs no script but its own.

folium writes links to four hosts on the internet. `OfflineFigure` puts Leaflet itself
into the page (from the package XStatic-Leaflet), leaves out what the page does not use,
and refuses any other link, so that a page with a link can never be written. A
Content-Security-Policy made of hashes lets the browser run these scripts and no others.
"""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import mimetypes
import re
from collections.abc import Mapping
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any, Final

from branca.element import CssLink, Element, Figure, JavascriptLink
from jinja2 import Environment, PackageLoader, StrictUndefined

from pathways.errors import OutputError

#: Links of folium that the page carries, by folium's name for them.
CARRIED: Final[Mapping[str, str]] = {
    "leaflet": "leaflet.js",
    "leaflet_css": "leaflet.css",
}

#: Links that folium adds to every map and that these pages do not use.
LEFT_OUT: Final = frozenset(
    {
        "jquery",
        "bootstrap",
        "bootstrap_css",
        "awesome_markers",
        "awesome_markers_css",
        "awesome_markers_font_css",
        "awesome_rotate_css",
        "glyphicons_css",
    }
)

TEMPLATES: Final = Environment(
    loader=PackageLoader("pathways.pages"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)

#: In JSON inside a page these could close the script or end a line of it
#: (HTML Living Standard, "Restrictions for contents of script elements").
_ESCAPES: Final = {
    ord(character): f"\\u{ord(character):04x}" for character in "<>&\u2028\u2029"
}

_SCRIPT: Final = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_STYLE: Final = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_CSS_URL: Final = re.compile(r"""url\(\s*["']?([^)"']+?)["']?\s*\)""")


class OfflineFigure(Figure):
    """A branca figure whose page is one file.

    Parameters
    ----------
    template : str
        Name of a template in `pathways/pages/templates`.
    values : mapping
        What the template shows, besides `head`, `body`, `script` and `policy`.
    """

    def __init__(self, template: str, values: Mapping[str, Any]) -> None:
        super().__init__()
        self._page = TEMPLATES.get_template(template)
        self._values = values

    def render(self, **kwargs: Any) -> str:
        """Return the page.

        Raises
        ------
        OutputError
            If a part of the page links to something that the page does not carry.
        """
        count_ids(self)
        for child in self._children.values():
            child.render(**kwargs)
            # folium's sheet stretches the map over the whole page and its viewport
            # forbids people with weak eyes to zoom.
            self.header._children.pop(child.get_name(), None)
        head = [_carried(*link) for link in list(self.header._children.items())]
        text = self._page.render(
            self._values,
            head="\n".join(one for one in head if one),
            body=self.html.render(**kwargs),
            script=self.script.render(**kwargs),
            policy="POLICY",
        )
        return text.replace('content="POLICY"', f'content="{policy_for(text)}"', 1)


def count_ids(root: Element) -> None:
    """Give every element a counted id: folium's are random, and differ each time."""
    numbers = itertools.count(1)
    waiting = [root]
    while waiting:
        element = waiting.pop()
        element._id = str(next(numbers))
        waiting.extend(reversed(element._children.values()))


def policy_for(page: str) -> str:
    """Return the Content-Security-Policy that lets a page's own parts run.

    Content Security Policy Level 3 (W3C), sections 2.3.1 and 6.7: a source expression
    is the base64 of the SHA-256 of the text between the tags.
    """
    scripts = " ".join(map(_hash_of, _SCRIPT.findall(page))) or "'none'"
    styles = " ".join(map(_hash_of, _STYLE.findall(page))) or "'none'"
    return (
        f"default-src 'none'; script-src {scripts}; style-src {styles}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def template_text(name: str) -> str:
    """Return one of our own scripts or sheets as it is."""
    return (resources.files("pathways.pages") / "templates" / name).read_text("utf-8")


def script_tag(text: str) -> str:
    """Return a script inside its tags."""
    return f"<script>{_harmless_inside('script', text)}</script>"


def style_tag(text: str) -> str:
    """Return a style sheet inside its tags."""
    return f"<style>{_harmless_inside('style', text)}</style>"


def json_inside(data: Mapping[str, Any]) -> str:
    r"""Return values as JSON that may stand inside a script element.

    Examples
    --------
    >>> print(json_inside({"name": "</script>"}))
    {"name":"\u003c/script\u003e"}
    """
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.translate(_ESCAPES)


def _hash_of(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def _harmless_inside(tag: str, text: str) -> str:
    """Return a text that cannot close its own tag; `<!--` would hide the closing."""
    for opening in (f"</{tag}", "<!--"):
        if opening in text.lower():
            msg = f"a {tag} that holds {opening!r} cannot be put into a page"
            raise OutputError(msg)
    # The browser reads a carriage return as a new line, and hashes what it reads.
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _carried(name: str, element: Element) -> str:
    """Return the text that takes the place of one part of folium's head."""
    if not isinstance(element, (CssLink, JavascriptLink)):
        return "" if name == "meta_http" else str(element.render())
    if name in LEFT_OUT:
        return ""
    if name not in CARRIED:
        msg = f"the page would need {element.url} from the internet"
        raise OutputError(msg)
    file = _leaflet() / CARRIED[name]
    text = file.read_text("utf-8")
    if isinstance(element, JavascriptLink):
        return script_tag(re.sub(r"//# sourceMappingURL=\S*", "", text))
    return style_tag(_CSS_URL.sub(_picture_inside, text))


def _leaflet() -> Traversable:
    return resources.files("xstatic.pkg.leaflet") / "data"


def _picture_inside(match: re.Match[str]) -> str:
    address = match.group(1)
    if address.startswith(("#", "data:")):
        return match.group(0)
    kind = mimetypes.guess_type(address)[0] or "application/octet-stream"
    stored = base64.b64encode((_leaflet() / address).read_bytes()).decode()
    return f"url(data:{kind};base64,{stored})"
