"""What losses do on a way, as plain values of the results."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

from pathways.io._numbers import RATIO_DIGITS, number, quantiles
from pathways.spill.kerbs import InletFlow, KerbFlow
from pathways.spill.spill import CriticalVolume, Fate, Spill
from pathways.spill.wave import Wave
from pathways.spill.yard_rain import RainEnd, YardRain
from pathways.terrain.pathway import Pathway
from pathways.units import LITRES_PER_CUBIC_METRE

#: What each model may be used for.
MODELS: Final = {
    "closed_form": "film and uptake while the loss runs out, over the wetted width; "
    "cautious for the water at the end of the way, and never to be used for what "
    "reaches groundwater",
    "kinematic_wave": "the same way followed through time with middle values; more "
    "soaks in while liquid lies, so less arrives",
}


def spill_document(spill: Spill | None) -> dict[str, Any] | None:
    """Return what losses do on one way; None where that is not known."""
    if spill is None:
        return None
    return {
        "models": dict(MODELS),
        "soonest_s": number(spill.soonest_s),
        "storm_s": number(spill.storm_s),
        "losses": [
            {
                "loss": one.name,
                "volume_l": number(one.volume_l),
                "rate_l_per_min": number(one.rate_l_per_min),
                "duration_s": number(one.duration_s),
                "neat": one.neat,
                "standing": one.standing,
                "source": one.source,
                "states": {
                    fate.state: _fate(fate)
                    for fate in spill.fates
                    if fate.release == one.name
                },
            }
            for one in spill.releases
        ],
        "critical_volume_l": critical_document(spill.critical),
        "kerbs": [_kerb(one) for one in spill.kerbs],
        "inlets": [_inlet(one) for one in spill.inlets],
        "rain": _rain(spill.rain),
    }


def alternative_documents(
    pathway: Pathway, spill: Spill | None
) -> list[dict[str, Any]]:
    """Return the other ways of one source, each with the least that gets there."""
    nothing: Sequence[Sequence[CriticalVolume]] = ((),) * len(pathway.alternatives)
    others = nothing if spill is None else spill.others
    return [
        {
            "why": one.why,
            "outcome": one.outcome,
            "receptor_id": one.receptor_id,
            "receptor_kind": one.receptor_kind,
            "length_m": number(one.length_m),
            "via": list(one.via),
            "critical_volume_l": critical_document(critical) or None,
        }
        for one, critical in zip(pathway.alternatives, others, strict=True)
    ]


def critical_document(critical: Iterable[CriticalVolume]) -> dict[str, Any]:
    """Return the smallest loss that gets there by state of the ground."""
    return {
        one.state: quantiles((one.low_l, one.median_l, one.high_l)) for one in critical
    }


def _fate(fate: Fate) -> dict[str, Any]:
    return {
        "film_l": number(fate.film_l),
        "hollows_l": number(fate.hollows_l),
        "soaks_l": number(fate.soaks_l),
        "tanks_l": number(fate.tanks_l),
        "past_inlets_l": number(fate.past_inlets_l),
        "arrives_l": number(fate.arrives_l),
        "gets_past_l": quantiles(fate.gets_past_l),
        "time_s": quantiles(fate.time_s),
        "kinematic_wave": _wave(fate.wave),
    }


def _wave(wave: Wave | None) -> dict[str, Any] | None:
    if wave is None:
        return None
    litres = {
        "film_l": wave.film_m3,
        "stores_l": wave.stores_m3,
        "soaks_l": wave.soaked_m3,
        "moving_l": wave.moving_m3,
        "arrives_l": wave.arrives_m3,
    }
    return {
        **{name: number(one * LITRES_PER_CUBIC_METRE) for name, one in litres.items()},
        "first_s": number(wave.first_s),
        "reach_m": number(wave.reach_m),
    }


def _kerb(flow: KerbFlow) -> dict[str, Any]:
    return {
        "id": flow.id,
        "loss": flow.release,
        "spread_m": number(flow.spread_m),
        "depth_m": number(flow.depth_m),
        "height_m": number(flow.height_m),
        "overtops": flow.overtops,
    }


def _inlet(flow: InletFlow) -> dict[str, Any]:
    return {
        "id": flow.id,
        "loss": flow.release,
        "spread_m": number(flow.spread_m),
        "grating_m": number(flow.grating_m),
        "captured": number(flow.captured, RATIO_DIGITS),
        "standing": "given" if flow.given else "computed",
    }


def _rain(rain: YardRain | None) -> dict[str, Any] | None:
    if rain is None:
        return None
    return {
        "working_area_m2": number(rain.working_area_m2),
        "dirty_area_m2": number(rain.dirty_area_m2),
        "joining_area_m2": number(rain.joining_area_m2),
        "ends": [_rain_end(one) for one in rain.ends],
    }


def _rain_end(end: RainEnd) -> dict[str, Any]:
    return {
        "id": end.id,
        "kind": end.kind,
        "outcome": end.outcome,
        "area_m2": number(end.area_m2),
        "hard_area_m2": number(end.hard_area_m2),
        "runoff_m3": number(end.runoff_m3),
        "peak_l_per_s": number(end.peak_l_per_s),
    }


def spill_rows(spill: dict[str, Any] | None) -> Iterator[dict[str, Any]]:
    """Yield a row for each loss and state, flat, from the document of one spill."""
    for loss in () if spill is None else spill["losses"]:
        for state, fate in loss["states"].items():
            critical = spill["critical_volume_l"][state]  # type: ignore[index]
            yield {
                "loss": loss["loss"],
                "state": state,
                "volume_l": loss["volume_l"],
                "rate_l_per_min": loss["rate_l_per_min"],
                **{
                    name: fate[name]
                    for name in (
                        "film_l",
                        "hollows_l",
                        "soaks_l",
                        "tanks_l",
                        "past_inlets_l",
                        "arrives_l",
                    )
                },
                **_flat("gets_past", "l", fate["gets_past_l"]),
                **_flat("time", "s", fate["time_s"]),
                **_flat("critical", "l", critical),
            }


def _flat(name: str, unit: str, values: dict[str, Any]) -> dict[str, Any]:
    return {f"{name}_{which}_{unit}": value for which, value in values.items()}
