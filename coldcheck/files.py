"""Reading files, and the only place that writes them."""

from __future__ import annotations

import sys
from pathlib import Path

__all__ = ["CannotRead", "read"]


class CannotRead(Exception):
    """A file that cannot be read: its name and why, in plain words."""


def read(name: str, most: int) -> bytes:
    """Return the bytes of a file, or of standard input for ``-``; no more than ``most`` + 1 are taken.

    Raises:
        CannotRead: it does not exist, is a folder, or may not be read.
    """
    if name == "-":
        return sys.stdin.buffer.read(most + 1)
    path = Path(name)
    try:
        if path.is_dir():
            raise CannotRead(f"{name} is a folder; name a plan in it, like {path / 'plan.toml'}")
        with path.open("rb") as file:
            return file.read(most + 1)
    except FileNotFoundError:
        raise CannotRead(f"there is no file {name}") from None
    except PermissionError:
        raise CannotRead(f"{name} may not be read: its permissions forbid it") from None
    except OSError as error:
        raise CannotRead(f"{name} cannot be read: {error.strerror}") from None
