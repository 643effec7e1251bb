"""Files: a plan is replaced whole or not at all, and only where nobody else has changed it."""

from __future__ import annotations

import os
import stat
import tempfile
from pathlib import Path
from typing import Any

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


def test_all_or_none(tmp_path: Path) -> None:
    """Several files are written together, folders made, and nothing is left beside them."""
    made = {"a.txt": b"a", "in/b.txt": b"b"}
    files.write_all(str(tmp_path / "new"), made, lambda name, old: False)
    assert {str(p.relative_to(tmp_path)): p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == {
        "new/a.txt": b"a", "new/in/b.txt": b"b",
    }  # fmt: skip
    files.write_all(
        str(tmp_path / "new"), made, lambda name, old: False
    )  # nothing changes, so nothing is refused


def test_what_is_not_ours_stays(tmp_path: Path) -> None:
    """One file that is not ours, or a folder of its name, and none of the others is written."""
    (tmp_path / "b.txt").write_bytes(b"mine")
    (tmp_path / "c.txt").mkdir()
    with pytest.raises(files.CannotWrite, match=r"b\.txt was not made by coldcheck.*c\.txt is no file"):
        files.write_all(str(tmp_path), {"a.txt": b"a", "b.txt": b"b", "c.txt": b"c"}, lambda name, old: False)
    assert not (tmp_path / "a.txt").exists()
    assert (tmp_path / "b.txt").read_bytes() == b"mine"
    (tmp_path / "c.txt").rmdir()
    files.write_all(str(tmp_path), {"a.txt": b"a", "b.txt": b"b"}, lambda name, old: old == b"mine")
    assert (tmp_path / "b.txt").read_bytes() == b"b"


def test_a_folder_that_cannot_be(tmp_path: Path) -> None:
    """A parent that is not there is told; a file in the place of a folder too, and nothing is half made."""
    with pytest.raises(files.CannotWrite, match="there is no folder"):
        files.write_all(str(tmp_path / "no" / "such"), {"a": b""}, lambda name, old: True)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "in").write_bytes(b"x")
    with pytest.raises(files.CannotWrite, match="cannot be written"):
        files.write_all(str(tmp_path / "out"), {"a": b"a", "in/b": b"b"}, lambda name, old: True)
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["in"]


def test_a_write_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full before the last file, none of them is there, nor is the folder that was made for them."""
    real, count = tempfile.mkstemp, []

    def full(*args: Any, **more: Any) -> Any:
        count.append(1)
        if len(count) == 2:
            raise OSError(28, "No space left on device")
        return real(*args, **more)

    monkeypatch.setattr(tempfile, "mkstemp", full)
    with pytest.raises(files.CannotWrite, match="No space left"):
        files.write_all(str(tmp_path / "new"), {"a": b"a", "b": b"b"}, lambda name, old: True)
    assert not (tmp_path / "new").exists()
