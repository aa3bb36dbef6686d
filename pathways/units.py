"""The only conversions of units, each with its source.

Inside, lengths are metres, volumes litres or cubic metres, times seconds. What arrives
in other units is converted once, by `pathways.io`.
"""

from __future__ import annotations

from typing import Final

#: International foot [m]: exact since 1959 (NIST SP 811, 2008, appendix B.6).
METRES_PER_FOOT: Final = 0.3048

#: United States survey foot [m]: exact by definition (NIST SP 811, 2008, B.6).
METRES_PER_US_SURVEY_FOOT: Final = 1200.0 / 3937.0

#: Litres in a cubic metre (SI).
LITRES_PER_CUBIC_METRE: Final = 1000.0

#: Gallons [l]: that of the United States is 231 cubic inches (NIST SP 811, 2008, B.6);
#: the imperial one is exact by the United Kingdom's Units of Measurement Regulations
#: 1995, schedule (from memory).
LITRES_PER_US_GALLON: Final = 3.785411784
LITRES_PER_IMPERIAL_GALLON: Final = 4.54609

CENTIMETRES_PER_METRE: Final = 100.0

#: Inches in a foot.
INCHES_PER_FOOT: Final = 12.0

#: Names of height units that a farm.toml may give, and their length [m].
HEIGHT_UNITS_M: Final = {
    "metre": 1.0,
    "foot": METRES_PER_FOOT,
    "us_survey_foot": METRES_PER_US_SURVEY_FOOT,
}

SQUARE_METRES_PER_HECTARE: Final = 10_000.0
SECONDS_PER_MINUTE: Final = 60.0
MILLIMETRES_PER_METRE: Final = 1000.0

#: Ends of names that say a unit, and the unit as people write it; longer ends first.
UNIT_OF_ENDING: Final = {
    "_l_per_min": "l/min",
    "_l_per_m2": "l/m²",
    "_kg_per_m3": "kg/m³",
    "_mm_per_year": "mm a year",
    "_mm_per_h": "mm/h",
    "_m_per_s": "m/s",
    "_min": "min",
    "_mm": "mm",
    "_m": "m",
    "_l": "l",
}


def name_and_unit(name: str) -> tuple[str, str]:
    """Part the name of a number from the unit at its end.

    Parameters
    ----------
    name : str
        Such as ``tank_height_m``.

    Returns
    -------
    tuple of str
        The rest in words, and the unit; empty where the name bears none.

    Examples
    --------
    >>> name_and_unit("tank_height_m"), name_and_unit("volume_doubt")
    (('tank height', 'm'), ('volume doubt', ''))
    """
    for ending, unit in UNIT_OF_ENDING.items():
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " "), unit
    return name.replace("_", " "), ""
