"""`pathways demo`: an invented farm, assessed."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path

import click

from .assess import assess_and_tell
from .options import quiet_option


@click.command()
@click.argument(
    "folder", type=click.Path(path_type=Path), default=Path("demo-farm"), required=False
)
@click.option("--overwrite", is_flag=True, help="Replace a demo that is there.")
@quiet_option
def command(folder: Path, overwrite: bool, quiet: bool | None) -> None:
    """Write the invented demo farm to FOLDER (demo-farm by default) and assess it."""
    from pathways.errors import OutputError

    if folder.exists() and not overwrite:
        msg = f"{folder} is there already; give another folder, or --overwrite"
        raise OutputError(msg)
    folder.mkdir(parents=True, exist_ok=True)
    for file in (resources.files("pathways_samples") / "demo-farm").iterdir():
        with resources.as_file(file) as path:
            shutil.copyfile(path, folder / file.name)
    assess_and_tell(folder, None, overwrite=overwrite, quiet=quiet)
