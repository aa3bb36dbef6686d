"""Where the front of a spill is through time, for a reader to watch it run."""

from __future__ import annotations

import numpy as np

from pathways.spill.course import Conduit, Course, Mouth, Stretch
from pathways.spill.losses import Conditions, RunningSpills
from pathways.spill.times import time_in_pipes_s

#: Distance along a way [m] and time since the spill began [s].
Moment = tuple[float, float]


def front_along(
    course: Course, given: Conditions, volume_m3: float, rate_m3_per_s: float
) -> tuple[Moment, ...]:
    """Return where the front of one spill is through time.

    Parameters
    ----------
    course : Course
        The way.
    given : Conditions
        State of the ground, with a single draw.
    volume_m3 : float
        Volume of the spill [m³].
    rate_m3_per_s : float
        At which it runs out [m³/s].

    Returns
    -------
    tuple of (float, float)
        Distance along the way [m] and time [s], both never falling, the front running
        evenly between two. At a hollow or tank the distance stays while it fills at the
        rate that comes to it. The last distance is that of the whole way where some of
        it arrives, else where the spill is used up.

    Notes
    -----
    The same balance as `run_along`, of which times of arrival leave out the filling of
    hollows, which is cautious: so this front can come later than those tell.
    """
    runs = RunningSpills(course, given, np.array([volume_m3]), rate_m3_per_s)
    moments: list[Moment] = [(0.0, 0.0)]
    for part in course.parts:
        along_m, time_s = moments[-1]
        before_m3 = float(runs.left_m3[0])
        if isinstance(part, Stretch):
            share = runs.share_wetted(part)
            moments.append(
                (
                    along_m + share * part.length_m,
                    time_s + share * float(runs.last_stretch_s[0]),
                )
            )
        elif isinstance(part, Conduit):
            pipe = Course((part,))
            through_s = time_in_pipes_s(
                pipe, given.assumed, fall_error_m=given.fall_error_m
            )
            moments.append((along_m + part.length_m, time_s + through_s))
        elif isinstance(part, Mouth):
            runs.down(part)
        else:
            runs.into(part)
            comes_m3_per_s = before_m3 / float(runs.duration_s[0])
            held_m3 = before_m3 - float(runs.left_m3[0])
            if held_m3 > 0:
                moments.append((along_m, time_s + held_m3 / comes_m3_per_s))
        if not runs.left_m3[0] > 0:
            break
    return tuple(moments)
