"""The bytes of a file that a person names: one reader for all inputs."""

from __future__ import annotations

from pathlib import Path

from terrain.errors import InputError
from terrain.text.message import message


def read_most(path: Path, most_bytes: int, error: type[InputError]) -> bytes:
    """The file's bytes, at most one more than `most_bytes`: enough for its parser to refuse it.

    Raises `error` if there is no such file, or it cannot be read.
    """
    try:
        with path.open("rb") as stream:
            return stream.read(most_bytes + 1)
    except FileNotFoundError as exc:
        raise error(
            message("there is no such file"), str(path), message("Check the name.")
        ) from exc
    except IsADirectoryError as exc:
        raise error(message("this is a folder"), str(path), message("Name one file.")) from exc
    except (OSError, ValueError) as exc:  # ValueError: a name with a null in it
        reason = getattr(exc, "strerror", None) or str(exc)
        raise error(
            message("the file cannot be read ({reason})", reason=str(reason)), str(path)
        ) from exc
