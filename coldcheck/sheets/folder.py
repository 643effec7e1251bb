"""All sheets and address files of a plan as files of one folder, and which of those already there are ours."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping

from coldcheck.formats.text import plain

from . import bench, labels, table
from .address_files import MARK, AddressFiles
from .drawing import standalone

__all__ = ["LIST", "NAMES", "folder_of", "former_of", "ours_by"]

#: The file that lists what was made, each with the SHA-256 of what was written.
LIST = "made.json"
#: The folder of the address files.
NAMES = "names"


def folder_of(
    shown: bench.Shown, addresses: AddressFiles, page: str, printed: Mapping[str, bytes]
) -> dict[str, bytes]:
    """Return the bytes of every file by its name: the page, tables as CSV, all as text and JSON, and others.

    ``printed``: files that are bytes already.
    """
    made = {f"{one.name}.csv": table.as_csv(one) for sheet in shown.pack.sheets for one in sheet.tables}
    made.update({
        f"drawings/{one.name}.svg": standalone(one) for sheet in shown.pack.sheets for one in sheet.drawings
    })  # fmt: skip
    for one in (one for sheet in shown.pack.sheets if sheet.name == "labels" for one in sheet.tables):
        for paper in labels.SHEETS:
            made[f"{paper.name}.html"] = labels.page(one, shown.pack.title, paper, shown.pack.errors)
    made["sheets.html"] = page
    made["sheets.txt"] = "".join(f"{plain(line)}\n" for line in bench.lines(shown))
    made["sheets.json"] = f"{bench.document(shown)}\n"
    made.update({f"{NAMES}/{name}": text for name, text in addresses.files.items()})
    written = {**{name: text.encode() for name, text in made.items()}, **printed}
    listed = {name: hashlib.sha256(text).hexdigest() for name, text in written.items()}
    written[LIST] = f"{json.dumps({'format': 1, 'files': listed}, indent=2)}\n".encode()
    return written


def former_of(listed: bytes | None) -> dict[str, str]:
    """Return the SHA-256 of each file made before, by its name, out of the bytes of a `LIST`; none for another file."""
    try:
        found = json.loads(listed or b"")["files"]
        return {str(name): str(digest) for name, digest in found.items()}
    except (ValueError, KeyError, TypeError, AttributeError):
        return {}


def ours_by(former: Mapping[str, str]) -> Callable[[str, bytes], bool]:
    """Return what tells whether a file that is there is ours: it is as it was made, or its first line says so."""

    def ours(name: str, old: bytes) -> bool:
        if name == LIST:
            return bool(former_of(old))
        if former.get(name) == hashlib.sha256(old).hexdigest():
            return True
        return name.startswith(f"{NAMES}/") and MARK.encode() in old.partition(b"\n")[0]

    return ours
