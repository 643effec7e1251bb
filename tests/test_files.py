"""Files: a plan is replaced whole or not at all, and only where nobody else has changed it."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from coldcheck import files


def test_a_file_is_replaced_with_its_mode(tmp_path: Path) -> None:
    """The new bytes stand in the old place, with the old mode, and nothing lies beside them."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b"old")
    path.chmod(0o640)
    files.replace(str(path), b"old", b"new\r\n")
    assert path.read_bytes() == b"new\r\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """What a link leads to is changed, and the link is one still."""
    path, link = tmp_path / "plan.toml", tmp_path / "link.toml"
    path.write_bytes(b"old")
    link.symlink_to(path)
    files.replace(str(link), b"old", b"new")
    assert link.is_symlink()
    assert path.read_bytes() == b"new"


def test_a_file_changed_meanwhile_is_left(tmp_path: Path) -> None:
    """Where the file holds something else than was read, it keeps that."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b"theirs")
    with pytest.raises(files.CannotWrite, match="was changed meanwhile"):
        files.replace(str(path), b"old", b"new")
    assert path.read_bytes() == b"theirs"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_is_gone(tmp_path: Path) -> None:
    """What does not exist any more is not made anew."""
    with pytest.raises(files.CannotWrite, match="is gone"):
        files.replace(str(tmp_path / "plan.toml"), b"", b"new")
    assert not list(tmp_path.iterdir())


def test_a_write_that_fails_leaves_the_old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk half way through leaves the file as it was, and no piece of the new one."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b"old")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(files.CannotWrite, match="No space left"):
        files.replace(str(path), b"old", b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_what_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that its mode protects stays as it is, though its folder would let it be replaced."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b"old")
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may write everything
    with pytest.raises(files.CannotWrite, match="permissions"):
        files.replace(str(path), b"old", b"new")
    assert path.read_bytes() == b"old"


def test_what_is_written_past_python_is_kept_out(capfd: pytest.CaptureFixture[str]) -> None:
    """A library's own print does not reach standard output; ours before and after it does."""
    print("before")
    with files.silenced():
        os.write(1, b"noise\n")
    print("after", flush=True)
    assert capfd.readouterr().out == "before\nafter\n"
