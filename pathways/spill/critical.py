"""The smallest loss of which some gets to the end of a way."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.spill.course import Course, Mouth, Part, Store, Stretch
from pathways.spill.losses import Conditions, run_along

Values = NDArray[np.float64]

#: Releases beyond this are not asked for [m³].
MOST_VOLUME_M3: Final = 100_000.0
#: A release less than this is any amount [m³]: a thousandth of a millilitre.
ANY_AMOUNT_M3: Final = 1e-9
_HALVINGS: Final = 34


def critical_volume_m3(
    course: Course, given: Conditions, rate_m3_per_s: float
) -> Values:
    """Return the smallest release of which some gets past, for each possible spill.

    Parameters
    ----------
    course : Course
        The way.
    given : Conditions
        State of the ground and what was drawn.
    rate_m3_per_s : float
        At which it runs out [m³/s].

    Returns
    -------
    ndarray of float64
        By halving: what gets past never falls with the volume. Nought where any amount
        does; infinite where `MOST_VOLUME_M3` does not [m³].
    """
    course = _merged(course)

    def gets_past(volume_m3: Values) -> NDArray[np.bool_]:
        found = run_along(course, given, volume_m3, rate_m3_per_s, timed=False)
        return np.asarray(found.gets_past_m3 > 0)

    count = given.draws.count
    low, high = np.full(count, ANY_AMOUNT_M3), np.full(count, MOST_VOLUME_M3)
    always, never = gets_past(low), ~gets_past(high)
    if not always.all():
        for _ in range(_HALVINGS):
            middle = np.sqrt(low * high)
            past = gets_past(middle)
            low, high = np.where(past, low, middle), np.where(past, middle, high)
    return np.where(always, 0.0, np.where(never, np.inf, high))


def _merged(course: Course) -> Course:
    """Return a course of the same losses with fewer parts, in which order is lost.

    Between two inlets the losses of stretches and stores add up, whatever their order.
    """
    spans: list[dict[tuple[str, str], Stretch | Store] | Part] = [{}]
    last: Stretch | None = None  # what an inlet takes hangs on the ground before it
    for part in course.parts:
        if isinstance(part, Mouth) or (isinstance(part, Stretch) and part.kerb):
            spans += [*filter(None, [last]), part, {}]
            last = None
        elif isinstance(part, Stretch):
            if last is not None:
                _add(spans, ("", last.material.kind), last)
            last = part
        elif isinstance(part, Store):
            _add(spans, ("store", part.kind), part)
    spans += filter(None, [last])
    return Course(
        tuple(
            part
            for span in spans
            for part in (span.values() if isinstance(span, dict) else (span,))
        )
    )


def _add(
    spans: list[dict[tuple[str, str], Stretch | Store] | Part],
    key: tuple[str, str],
    part: Stretch | Store,
) -> None:
    """Add a part to those of its kind in the last span."""
    span = spans[-1]
    if not isinstance(span, dict):
        span = {}
        spans.append(span)
    before = span.get(key)
    if isinstance(part, Stretch):
        more_m = before.length_m if isinstance(before, Stretch) else 0.0
        span[key] = replace(part, length_m=part.length_m + more_m)
    else:
        more_m3 = before.capacity_m3 if isinstance(before, Store) else 0.0
        span[key] = replace(part, capacity_m3=part.capacity_m3 + more_m3)
