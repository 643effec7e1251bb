"""Reading files, and the only place that writes them."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

__all__ = ["CannotRead", "CannotWrite", "read", "replace", "silenced", "write_all"]


class CannotRead(Exception):
    """A file that cannot be read: its name and why, in plain words."""


class CannotWrite(Exception):
    """A file that was not written, and is as it was before: its name and why, in plain words."""


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


def replace(name: str, old: bytes, new: bytes) -> None:
    """Put ``new`` in the place of ``old``, the bytes that were read from a file, whole or not at all.

    The new bytes are written beside the file and take its name at once, so that whoever reads it sees the one or the
    other. Its mode stays; a link stays one, and what it leads to is changed.

    Raises:
        CannotWrite: it holds something else by now, or may not be written.
    """
    path = Path(os.path.realpath(name))
    try:
        if path.read_bytes() != old:
            raise CannotWrite(f"{name} was changed meanwhile, and is left as it is; look at it and try again")
        if not os.access(path, os.W_OK):
            raise CannotWrite(f"{name} may not be written: its permissions forbid it")
        _swap(path, new)
    except FileNotFoundError:
        raise CannotWrite(f"{name} is gone") from None
    except PermissionError:
        raise CannotWrite(f"{name} cannot be replaced: its folder {path.parent} may not be written") from None
    except OSError as error:
        raise CannotWrite(f"{name} cannot be written: {error.strerror}") from None


def write_all(folder: str, made: Mapping[str, bytes], ours: Callable[[str, bytes], bool]) -> None:
    """Write files below a folder, all or none; the folder is made where it is not there, its parent is not.

    Everything is written beside its place first and takes its name when all of it is there.

    Args:
        folder: where to.
        made: the bytes of each file by its name in the folder, "/" between folders.
        ours: says of a file that is there, by its name and bytes, whether we made it and nobody changed it.

    Raises:
        CannotWrite: something there is not ours, or cannot be written; nothing was changed.
    """
    top = Path(folder)
    if not top.parent.is_dir():
        raise CannotWrite(f"{folder} cannot be made: there is no folder {top.parent}")
    try:
        changed = _changed(top, made, ours)
        _place_all(top, changed)
    except PermissionError as error:
        raise CannotWrite(
            f"{error.filename or folder} may not be written: its permissions forbid it"
        ) from None
    except OSError as error:
        raise CannotWrite(f"{error.filename or folder} cannot be written: {error.strerror}") from None


def _changed(top: Path, made: Mapping[str, bytes], ours: Callable[[str, bytes], bool]) -> dict[str, bytes]:
    """Return the files that are to be written; what is there already, byte for byte, is not."""
    changed, strange = {}, []
    for name, new in made.items():
        path = top / name
        if not path.exists() and not path.is_symlink():
            changed[name] = new
        elif not path.is_file():
            strange.append(f"{path} is no file")
        elif (old := path.read_bytes()) != new:
            changed[name] = new
            if not ours(name, old):
                strange.append(f"{path} was not made by coldcheck, or was changed since")
    if strange:
        raise CannotWrite(f"{'; '.join(strange)}: move it away, or name another folder; nothing was written")
    return changed


def _place_all(top: Path, made: Mapping[str, bytes]) -> None:
    folders = [top, *(top / folder for folder in dict.fromkeys(str(Path(name).parent) for name in made))]
    new_folders = [folder for folder in dict.fromkeys(folders) if not folder.exists()]
    waiting: dict[Path, Path] = {}
    try:
        for folder in new_folders:
            folder.mkdir(exist_ok=True)
        for name, new in made.items():
            path = top / name
            handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
            waiting[path] = Path(beside)
            with os.fdopen(handle, "wb") as file:
                file.write(new)
        mask = os.umask(0)
        os.umask(mask)
        for path, fresh in waiting.items():
            fresh.chmod(path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~mask)
        for path, fresh in waiting.items():
            fresh.replace(path)
    except BaseException:
        for fresh in waiting.values():
            with suppress(OSError):
                fresh.unlink()
        for folder in reversed(new_folders):
            with suppress(OSError):
                folder.rmdir()  # one that holds something stays
        raise


def _swap(path: Path, new: bytes) -> None:
    mode = path.stat().st_mode
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(new)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(mode & 0o7777)
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


@contextmanager
def silenced() -> Iterator[None]:
    """Keep what a library writes to standard output past Python out of ours, which a program may read.

    HiGHS prints a line now and then, whatever its options say.
    """
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # there is no standard output
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
