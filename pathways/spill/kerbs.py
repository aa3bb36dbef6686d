"""How a loss runs along kerbs, and what inlets take of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from pathways.assumed import AssumedValues
from pathways.spill.course import Conduit, Course, Mouth, Stretch
from pathways.spill.gutters import frontal_share
from pathways.spill.losses import kerb_spread_m
from pathways.spill.releases import Release, ReleaseName


@dataclass(frozen=True, kw_only=True)
class KerbFlow:
    """How a loss runs along a kerb.

    Parameters
    ----------
    id : str
        The barrier.
    release : str
        The fastest of the losses.
    spread_m, depth_m : float
        Width of the flow and its depth at the kerb [m].
    height_m : float
        Height of the kerb [m].
    along : tuple of (float, float)
        From where to where along the whole way it runs beside the kerb [m].
    """

    id: str
    release: ReleaseName
    spread_m: float
    depth_m: float
    height_m: float
    along: tuple[tuple[float, float], ...] = ()

    @property
    def overtops(self) -> bool:
        """Whether it stands higher than the kerb."""
        return self.depth_m > self.height_m


@dataclass(frozen=True, kw_only=True)
class InletFlow:
    """What an inlet is sure to take of a loss that comes to it.

    Parameters
    ----------
    id : str
        The inlet.
    release : str
        The fastest of the losses.
    spread_m : float
        Width of the flow [m].
    grating_m : float
        Width of the grating across it [m].
    captured : float
        Share that it is sure to take.
    given : bool
        Whether the farm said that share.
    """

    id: str
    release: ReleaseName
    spread_m: float
    grating_m: float
    captured: float
    given: bool


def kerbs_along(
    course: Course, release: Release, assumed: AssumedValues
) -> list[KerbFlow]:
    """Return how a loss runs along the kerbs of a way.

    Parameters
    ----------
    course : Course
        The way.
    release : Release
        The loss.
    assumed : AssumedValues
        Fall of the ground towards kerbs.

    Returns
    -------
    list of KerbFlow
        One for each kerb, where it runs deepest.
    """
    rate = release.rate_m3_per_s
    found: dict[str, KerbFlow] = {}
    passed_m = 0.0
    for part in course.parts:
        if not isinstance(part, Stretch | Conduit):
            continue
        from_m, passed_m = passed_m, passed_m + part.length_m
        if not isinstance(part, Stretch) or part.kerb is None:
            continue
        spread_m = kerb_spread_m(part, rate, assumed)
        flow = KerbFlow(
            id=part.kerb.id,
            release=release.name,
            spread_m=spread_m,
            depth_m=spread_m * assumed["spill", "kerb_cross_fall"],
            height_m=part.kerb.height_m,
        )
        before = found.get(flow.id)
        deepest = flow if before is None or before.depth_m < flow.depth_m else before
        along = () if before is None else before.along
        found[flow.id] = replace(deepest, along=(*along, (from_m, passed_m)))
    return list(found.values())


def inlets_on(
    course: Course,
    release: Release,
    assumed: AssumedValues,
    widths_m: Mapping[str, float],
    capture_fraction: float | None,
) -> list[InletFlow]:
    """Return what the inlets on a way are sure to take of a loss.

    Parameters
    ----------
    course : Course
        The way.
    release : Release
        The loss.
    assumed : AssumedValues
        Fall of the ground towards kerbs.
    widths_m : mapping of str to float
        Width of the wetted path by kind of ground [m].
    capture_fraction : float or None
        Share that an inlet takes, where the farm says it.

    Returns
    -------
    list of InletFlow
        In the order of the way.
    """
    found: list[InletFlow] = []
    before: Stretch | None = None
    for part in course.parts:
        if isinstance(part, Stretch):
            before = part
        if not isinstance(part, Mouth) or before is None:
            continue
        if before.kerb is not None:
            spread_m = kerb_spread_m(before, release.rate_m3_per_s, assumed)
            captured = float(frontal_share(spread_m, part.width_m))
        else:
            spread_m = widths_m[before.material.width]
            captured = min(part.width_m / spread_m, 1.0)
        found.append(
            InletFlow(
                id=part.id,
                release=release.name,
                spread_m=spread_m,
                grating_m=part.width_m,
                captured=captured if capture_fraction is None else capture_fraction,
                given=capture_fraction is not None,
            )
        )
    return found
