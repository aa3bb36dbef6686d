"""What can go wrong, as a tree.

::

    PathwaysError
    ├── InputError            the input was refused; the text says how to mend it
    │   ├── GridError         the elevation
    │   ├── CrsError          a coordinate reference system
    │   ├── FeatureError      a digitised feature
    │   ├── SettingsError     farm.toml
    │   ├── RulebookError     a rulebook
    │   └── RefusedError      several problems at once, as `pathways check` lists them
    ├── OutputError           the results cannot be written
    │   └── OutputInUseError  another run is writing into the same folder
    ├── LimitError            the work would need more memory than is allowed
    ├── WitnessMissingError   the second program that was asked for is not installed
    └── PrinterMissingError   what makes a PDF was asked for and is not installed
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


class PathwaysError(Exception):
    """Root of everything that Farm Pathways raises on purpose."""


class InputError(PathwaysError):
    """The input was refused."""


class GridError(InputError):
    """The elevation cannot be used as it is."""


class CrsError(InputError):
    """A coordinate reference system is absent, unknown or unfit."""


class FeatureError(InputError):
    """A digitised feature cannot be used as it is."""


class SettingsError(InputError):
    """A setting in farm.toml is unknown or impossible."""


class RulebookError(InputError):
    """A rulebook is incomplete or contradicts itself."""


class OutputError(PathwaysError):
    """The results cannot be written."""


class OutputInUseError(OutputError):
    """Another run is writing into the same folder."""


class LimitError(PathwaysError):
    """The work would need more memory than is allowed."""


class WitnessMissingError(PathwaysError):
    """The second program that was asked for is not installed."""


class PrinterMissingError(PathwaysError):
    """What makes a PDF was asked for and is not installed."""


@dataclass(frozen=True)
class Notice:
    """One thing that a reader of the results must know.

    Parameters
    ----------
    code : str
        Short name for machines, such as ``no_drains_drawn``.
    text : str
        One sentence: what is wrong, where, and how to mend it.
    where : str
        File, layer and feature that it is about; empty for the whole farm.
    level : {"error", "warning"}
        An error stops the run; a warning goes into the results.
    """

    code: str
    text: str
    where: str = ""
    level: Literal["error", "warning"] = "warning"


class RefusedError(InputError):
    """The farm was refused for one or several reasons, all of them listed.

    Parameters
    ----------
    notices : tuple of Notice
        Everything that was found; the text of the error lists those of level "error".
    """

    def __init__(self, notices: tuple[Notice, ...]) -> None:
        self.notices = notices
        errors = [notice for notice in notices if notice.level == "error"]
        super().__init__(
            "\n".join(
                f"{notice.where}: {notice.text}" if notice.where else notice.text
                for notice in errors
            )
        )
