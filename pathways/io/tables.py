"""Tables that come with the package."""

from __future__ import annotations

from importlib import resources

from pathways.assumed import AssumedValues, parse_assumed


def read_assumed() -> AssumedValues:
    """Return the values that are used where nothing was given.

    Returns
    -------
    AssumedValues
        Every value with its standing and source.

    Examples
    --------
    >>> read_assumed()["drawing", "gate_width_m"]
    4.0
    """
    text = resources.files("pathways").joinpath("assumed.toml").read_text("utf-8")
    return parse_assumed(text)
