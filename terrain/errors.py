"""The one family of errors a user can meet.

TerrainError                    exit 1   anything we can explain
|-- UsageError                  exit 2   the command or the setting is wrong
|-- InputError                  exit 3   a file given to us cannot be used
|   |-- RouteError                       the planned route
|   |-- TrackError                       a recorded ride
|   |-- FleetError                       the operator's fleet file
|   |-- NotesError                       the operator's ground notes
|   |-- LearnedError                     what was learned, or said, of past rides
|   |-- HelpersError                     the operator's own helpers
|   |-- PlanError                        the guide's pinned days and stops
|   `-- MapDataError                     a map extract, elevation tile or climate grid
`-- RegionError                 exit 4   the local map pack
    |-- RegionMissing                    no region of that name
    |-- RegionDamaged                    files missing, changed, or of another format
    `-- RegionNotCovering                the route lies outside it
"""

from __future__ import annotations

from typing import ClassVar, Literal

from terrain.text.message import Message
from terrain.text.translator import Translator


class TerrainError(Exception):
    """What went wrong, where, and how to put it right.

    what : one plain sentence without a full stop
    where : file, line, point or option it was found at; empty if nowhere
    fix : what the reader can do about it; empty if nothing
    """

    exit_code: ClassVar[int] = 1
    http_status: ClassVar[int] = 500

    def __init__(self, what: Message, where: str = "", fix: Message | Literal[""] = "") -> None:
        super().__init__(what, where, fix)
        self.what = what
        self.where = where
        self.fix = fix

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        text = text.rstrip(".") + "."
        return f"{text} {self.fix}".rstrip()

    def say(self, translator: Translator) -> str:
        """The error in another language, as sentences."""
        return explained(translator, self.what, self.where, self.fix)

    def __reduce__(self) -> tuple[type[TerrainError], tuple[Message, str, Message | Literal[""]]]:
        # Errors cross process borders in batch runs; the default loses the fields.
        return type(self), (self.what, self.where, self.fix)


def explained(translator: Translator, what: str, where: str = "", fix: str = "") -> str:
    """What, where and fix of an error as sentences of one language."""
    said = translator.translate(what)
    if where:
        place = translator.translate(where)
        said = translator._("{where}: {text}", where=place, text=said)
    # A file's name stays as it is.
    if not where or (isinstance(where, Message) and not where.numbers):
        said = said[:1].upper() + said[1:]
    return f"{said.rstrip('.')}. {translator.translate(fix)}".rstrip()


class UsageError(TerrainError):
    """The command line or a setting cannot be understood."""

    exit_code = 2
    http_status = 400


class InputError(TerrainError):
    """A file given to terrain cannot be used."""

    exit_code = 3
    http_status = 422


class RouteError(InputError):
    """The planned route cannot be used."""


class TrackError(InputError):
    """The recorded ride cannot be used."""


class FleetError(InputError):
    """The fleet file cannot be used."""


class NotesError(InputError):
    """The operator's ground notes cannot be used."""


class LearnedError(InputError):
    """What was learned from past rides, or said after them, cannot be used."""


class HelpersError(InputError):
    """The operator's own helpers cannot be used."""


class PlanError(InputError):
    """The guide's pinned days and stops cannot be used."""


class MapDataError(InputError):
    """A map extract, elevation tile or climate grid cannot be used."""


class RegionError(TerrainError):
    """The local map pack cannot be used."""

    exit_code = 4
    http_status = 409


class RegionMissing(RegionError):
    """There is no region of that name."""

    http_status = 404


class RegionDamaged(RegionError):
    """The region's files are missing, changed, or of another format version."""


class RegionNotCovering(RegionError):
    """The route lies outside the region."""
