"""How soon storm runoff can be at the end of a way: the fast bound only."""

from __future__ import annotations

from pathways.assumed import AssumedValues
from pathways.spill.course import Conduit, Course
from pathways.spill.hydraulics import channel_speed_m_per_s, runoff_speed_m_per_s


def storm_time_s(
    course: Course, assumed: AssumedValues, *, fall_error_m: float = 0.0
) -> float:
    """Return how long storm runoff takes for a way [s].

    Parameters
    ----------
    course : Course
        Covers, lengths, slopes and pipes.
    assumed : AssumedValues
        Roughness of pipes.
    fall_error_m : float
        By how much the fall of the whole way over the ground may be greater than
        measured [m]; each stretch is taken that much steeper.

    Returns
    -------
    float
        Velocity method, V = k sqrt S (NEH 630 table 15-3), on the ground; Manning's
        equation in full pipes. A fast bound: each stretch is taken at its mean slope,
        and no way of the same length and fall is faster than one of even slope.
    """
    over_ground_s = storm_time_over_ground_s(course, fall_error_m=fall_error_m)
    return over_ground_s + time_in_pipes_s(course, assumed, fall_error_m=fall_error_m)


def time_in_pipes_s(
    course: Course, assumed: AssumedValues, *, fall_error_m: float = 0.0
) -> float:
    """Return how long liquid takes through the pipes of a way, running full [s].

    Parameters
    ----------
    course : Course
        Lengths, slopes and diameters.
    assumed : AssumedValues
        Roughness of pipes.
    fall_error_m : float
        By how much the fall of each may be greater than measured [m].

    Returns
    -------
    float
        By Manning's equation; the slope is that of the ground between the ends, and not
        less than drains are laid to.
    """
    manning_n = assumed["spill", "pipe_manning_n"]
    return sum(
        one.length_m
        / float(
            channel_speed_m_per_s(
                manning_n, one.diameter_m / 4, one.slope + fall_error_m / one.length_m
            )
        )
        for one in course.parts
        if isinstance(one, Conduit) and one.length_m > 0
    )


def storm_time_over_ground_s(course: Course, *, fall_error_m: float = 0.0) -> float:
    """Return the part of `storm_time_s` that is not in pipes [s].

    Parameters
    ----------
    course : Course
        Covers, lengths and slopes.
    fall_error_m : float
        As for `storm_time_s`.

    Returns
    -------
    float
        Nought of a way that runs over no ground.
    """
    if not course.over_ground_m > 0:
        return 0.0
    steeper = fall_error_m / course.over_ground_m
    return sum(
        one.length_m
        / float(
            runoff_speed_m_per_s(
                one.material.velocity_m_per_s.value, one.fast_slope + steeper
            )
        )
        for one in course.stretches
    )
