"""Whether ground water lifts a lined bed: while it is built, and ever after."""

from __future__ import annotations

from dataclasses import dataclass

from pathways.sizing.bed import Bed
from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure, weakest

_WAYS_OUT = (
    "Ways out: drain under the liner to a place that stays lower, raise the bed above "
    "the water, or take another place. Ballast on the liner must be designed."
)
_WHILE_BUILT = (
    "While it is built: keep the hole dry, lay the liner and weigh it down at once; "
    "the pump may stop only when the mix is as high as told here (common practice)."
)
_TANKS = (
    "An empty tank in the ground floats as a bed does: ask its maker for the anchorage "
    "at this water level."
)


@dataclass(frozen=True, kw_only=True)
class Flotation:
    """Uplift against weight.

    Parameters
    ----------
    head_m : float or None
        Ground water above the bottom of the bed [m]; None where it is not known.
    allowed_m : float
        Head that the full, settled and dry bed resists with its safety [m].
    fill_m : float or None
        Height of mix before the pump may stop [m]; None where it is not known, more
        than the depth where the bed floats even when full.
    chapter : Chapter
        All that with where it comes from.
    """

    head_m: float | None
    allowed_m: float
    fill_m: float | None
    chapter: Chapter

    @property
    def floats(self) -> bool | None:
        """Whether even the full bed floats; None where that is not resolved."""
        return None if self.head_m is None else self.head_m > self.allowed_m


def flotation_of(brief: Brief, bed: Bed, depth_to_water_m: float | None) -> Flotation:
    """Weigh a bed against the ground water under it.

    Parameters
    ----------
    brief : Brief
        Density of the mix and safety.
    bed : Bed
        Its depth.
    depth_to_water_m : float or None
        From the ground to the water in winter [m].

    Returns
    -------
    Flotation
        Of a column on a square metre: ρ_mix d against ρ_water h, walls and friction
        left out. Without a level it is not resolved.
    """
    table = brief.assumed.table
    density = table["bed", "density_kg_per_m3"]
    water = table["flotation", "water_density_kg_per_m3"]
    safety = table["flotation", "safety_factor"]
    relative = density.value / water.value / safety.value
    allowed_m = bed.depth_m * relative
    standing = weakest([density.standing, safety.standing])
    allowed = Figure(
        what="head of ground water that the full bed resists",
        value=allowed_m,
        unit="m",
        how=f"{bed.depth_m:g} m of mix at {density.value:g} kg/m³, dry, over water, "
        f"with a safety of {safety.value:g}",
        standing=standing,
        source=f"{density.source}; {safety.source}",
    )
    title = "Will it float?"
    if depth_to_water_m is None:
        return Flotation(
            head_m=None,
            allowed_m=allowed_m,
            fill_m=None,
            chapter=Chapter(
                title=title,
                figures=(
                    allowed,
                    Figure(
                        what="head of ground water in winter",
                        value=None,
                        unit="m",
                        how="measure the water in a trial pit in winter",
                        source="[soil] depth_to_water_m is not given",
                    ),
                ),
                cautions=(
                    "Whether the bed floats is not resolved: measure the water in "
                    "winter before anything is dug.",
                    _WHILE_BUILT,
                    _TANKS,
                ),
            ),
        )
    head_m = max(0.0, bed.depth_m - depth_to_water_m)
    # What is placed has not settled yet, and weighs less for its height.
    settles = table["bed", "settling_share"]
    fill_m = head_m / relative / (1 - settles.value)
    return Flotation(
        head_m=head_m,
        allowed_m=allowed_m,
        fill_m=fill_m,
        chapter=Chapter(
            title=title,
            figures=(
                Figure(
                    what="head of ground water in winter",
                    value=head_m,
                    unit="m",
                    how=f"water {depth_to_water_m:g} m down, bottom {bed.depth_m:g} m "
                    "down",
                    standing="given",
                    source="depth_to_water_m of the site or of farm.toml [soil]",
                ),
                allowed,
                Figure(
                    what="height of mix before the pump may stop",
                    value=fill_m,
                    unit="m",
                    how=f"by the same weight and safety, loose: {settles.value:.0%} of "
                    "it settle later".replace("%", " %"),
                    standing=standing,
                    source=f"{density.source}; {settles.source}",
                ),
            ),
            cautions=_told(head_m, allowed_m),
        ),
    )


def _told(head_m: float, allowed_m: float) -> tuple[str, ...]:
    if head_m <= 0:
        return (
            "The water given lies below the bottom of the bed; a wetter winter or a "
            "perched layer can bring it higher.",
            _TANKS,
        )
    if head_m > allowed_m:
        return (
            f"THE BED FLOATS, even when it is full: {head_m:.2f} m of water lift it "
            f"and it resists {allowed_m:.2f} m. {_WAYS_OUT}",
            _WHILE_BUILT,
            _TANKS,
        )
    return (
        "Full, the bed stays down; half empty, or with its mix taken out, it may not.",
        _WHILE_BUILT,
        _TANKS,
    )
