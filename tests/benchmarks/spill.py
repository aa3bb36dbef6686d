"""What the losses of possible spills on one way take, by both models."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median

import numpy as np

from pathways.io.tables import read_assumed, read_materials
from pathways.settings import Settings
from pathways.spill.course import Course, Store, Stretch
from pathways.spill.critical import critical_volume_m3
from pathways.spill.draws import draw, middle_draw, widths_of
from pathways.spill.ground_states import ground_states
from pathways.spill.losses import Conditions, run_along
from pathways.spill.wave import wave_along

#: Releases, and the way's length [m].
RELEASES, LENGTH_M = 1000, 500.0


def course() -> Course:
    """Return 500 m in 50 stretches of five covers, with a hollow in the middle."""
    materials = read_materials()
    kinds = ("concrete", "hardcore", "short_grass", "arable", "dense_grass")
    count = 50
    parts: list[Stretch | Store] = [
        Stretch(
            material=materials.surface(kinds[number * len(kinds) // count]),
            length_m=LENGTH_M / count,
            slope=0.01 + 0.0005 * number,
        )
        for number in range(count)
    ]
    parts.insert(count // 2, Store(kind="hollow", id="", capacity_m3=0.3))
    return Course(tuple(parts))


def measured(cpu_s: Callable[[], float], repeats: int = 5) -> dict[str, float]:
    """Return CPU times [s], everything compiled: medians of several runs in turn."""
    assumed, way = read_assumed(), course()
    widths_m = widths_of(Settings().spill, assumed)
    (dry,) = (one for one in ground_states(assumed) if one.name == "dry")
    soil = read_materials().soils["clay_loam"]
    many = Conditions(
        state=dry, soil=soil, draws=draw(widths_m, assumed, RELEASES), assumed=assumed
    )
    one = Conditions(state=dry, soil=soil, draws=middle_draw(widths_m), assumed=assumed)
    volume_m3, rate_m3_per_s = 20.0, 0.0067
    singles = 20  # of the loop, which is scaled up

    def loop() -> None:
        for _ in range(singles):
            run_along(way, one, np.array([volume_m3]), rate_m3_per_s)

    works: dict[str, Callable[[], object]] = {
        "closed form, 1,000 releases": lambda: run_along(
            way, many, volume_m3 * many.draws.volume_factors, rate_m3_per_s
        ),
        "critical volume of 1,000": lambda: critical_volume_m3(
            way, many, rate_m3_per_s
        ),
        "closed form, 1,000 one by one": loop,
        "kinematic wave, one release": lambda: wave_along(
            way, one, volume_m3, rate_m3_per_s
        ),
    }
    spent: dict[str, list[float]] = {name: [] for name in works}
    for work in works.values():
        work()
    for _ in range(repeats):
        for name, work in works.items():
            began = cpu_s()
            work()
            times = RELEASES / singles if name.endswith("one by one") else 1.0
            spent[name].append(times * (cpu_s() - began))
    return {name: median(times) for name, times in spent.items()}
