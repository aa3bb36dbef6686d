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

#: Names of height units that a farm.toml may give, and their length [m].
HEIGHT_UNITS_M: Final = {
    "metre": 1.0,
    "foot": METRES_PER_FOOT,
    "us_survey_foot": METRES_PER_US_SURVEY_FOOT,
}
