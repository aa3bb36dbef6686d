"""The command itself: which verbs there are, and how errors leave."""

from __future__ import annotations

import sys
from importlib import import_module, metadata

import click

from pathways.errors import (
    InputError,
    LimitError,
    OutputError,
    OutputInUseError,
    PrinterMissingError,
    WitnessMissingError,
)

#: Exit codes, as the data contract gives them.
WRONG_USAGE, REFUSED, CANNOT_WRITE, IN_USE, INTERRUPTED = 2, 3, 5, 6, 130

#: Verbs, in the order in which a farm meets them. A verb arrives when it works.
VERBS = (
    "new",
    "draw",
    "check",
    "trace",
    "rank",
    "size",
    "assess",
    "rules",
    "demo",
    "warm-up",
)


class Verbs(click.Group):
    """Load a verb only when it is called, so that help is quick."""

    def list_commands(self, _: click.Context) -> list[str]:
        """Return the verbs in the order of the work."""
        return list(VERBS)

    def get_command(self, _: click.Context, name: str) -> click.Command | None:
        """Return a verb, or None if there is none of that name."""
        if name not in VERBS:
            return None
        command = import_module(f"pathways_cli.{name.replace('-', '_')}").command
        assert isinstance(command, click.Command)  # noqa: S101  for the type checker
        return command

    def resolve_command(
        self, context: click.Context, arguments: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Say which verb may have been meant."""
        from pathways.rules import did_you_mean

        name = arguments[0]
        if name not in VERBS and not name.startswith("-"):
            context.fail(f"there is no verb {name!r}{did_you_mean(name, VERBS)}")
        return super().resolve_command(context, arguments)


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(metadata.version("farm-pathways"), prog_name="pathways")
@click.option("--debug", is_flag=True, help="Show a traceback with an error.")
@click.pass_context
def group(context: click.Context, debug: bool) -> None:
    """Trace where a farmyard spill runs, and site what stops it."""
    context.obj = debug


def main() -> None:
    """Run the command and turn errors into one sentence and an exit code."""
    debug = "--debug" in sys.argv[1:]
    try:
        group.main(standalone_mode=False, prog_name="pathways")
    except click.exceptions.Exit as error:
        sys.exit(error.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted; no results were written.", err=True)
        sys.exit(INTERRUPTED)
    except (InputError, LimitError) as error:
        _fail(error, REFUSED, debug=debug)
    except (PrinterMissingError, WitnessMissingError) as error:
        _fail(error, WRONG_USAGE, debug=debug)
    except OutputInUseError as error:
        _fail(error, IN_USE, debug=debug)
    except OutputError as error:
        _fail(error, CANNOT_WRITE, debug=debug)


def _fail(error: Exception, code: int, *, debug: bool) -> None:
    """Tell an error and leave."""
    if debug:
        raise error
    for line in str(error).splitlines() or ["the input was refused"]:
        click.secho(f"Error: {line}", fg="red", err=True)
    sys.exit(code)
