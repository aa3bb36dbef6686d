"""`pathways warm-up`: compile everything once, for image builds."""

from __future__ import annotations

import click

from .options import say


@click.command("warm-up")
def command() -> None:
    """Compile everything that an assessment uses; nothing is written but the cache.

    The demo farm is assessed in memory. Run it while an image is built, as the user who
    will run the program; set NUMBA_CACHE_DIR where the package's folder cannot be
    written.
    """
    import os
    from importlib import resources
    from pathlib import Path

    from pathways.run import run

    with resources.as_file(resources.files("pathways_samples") / "demo-farm") as farm:
        run(Path(farm))
    kept = os.environ.get(
        "NUMBA_CACHE_DIR", "beside the package, or in the user's cache"
    )
    say(f"Compiled; the result is kept {kept}.")
