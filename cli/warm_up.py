"""`pathways warm-up`: compile beforehand, when an image or a machine is set up."""

from __future__ import annotations

from importlib import resources

import click

from .options import quiet_option, say


@click.command("warm-up")
@quiet_option
def command(quiet: bool | None) -> None:
    """Compile all that an assessment uses, so that the first one starts at once.

    The demo farm is assessed in memory; no results are written. Compiled code is kept
    beside the program, or in the folder that NUMBA_CACHE_DIR names.
    """
    from pathways.run import warm_up

    sample = resources.files("pathways_samples") / "demo-farm"
    with resources.as_file(sample) as folder:
        kept = warm_up(folder)
    if not quiet:
        say(f"Compiled; kept in {kept}")
