"""Sheets and labels as PDF, through WeasyPrint: the page as it is printed, labels at their true size.

WeasyPrint, and the Pango that it sets type with, come with the extra ``pdf``; they are read when a PDF is asked for.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from typing import Any, NoReturn

from . import labels
from .page import Source, page

__all__ = ["SIZES", "CannotPrint", "prints"]

#: Sizes of paper, as CSS names them (ISO 216, ANSI A).
SIZES = ("A4", "Letter")


class CannotPrint(Exception):
    """What a PDF is made with is not there; the text says what to install."""


def prints(source: Source, size: str) -> Iterator[tuple[str, bytes]]:
    """Yield the name and bytes of each PDF for a size out of `SIZES`: all sheets, and the labels if they are wanted.

    Raises `CannotPrint`.
    """
    maker = _maker()
    yield f"sheets-{size.lower()}.pdf", _pdf(maker, page(source, size))
    for sheet in source.pack.sheets:
        for paper in labels.SHEETS if sheet.name == "labels" else ():
            if paper.paper == size and sheet.tables[0].rows:
                made = labels.page(sheet.tables[0], source.pack.title, paper, source.pack.errors)
                yield f"{paper.name}.pdf", _pdf(maker, made)


def _maker() -> Any:
    try:
        import weasyprint
    except ImportError:
        raise CannotPrint("a PDF needs WeasyPrint: install it, or coldcheck[pdf]") from None
    except OSError as error:  # it looks for shared libraries as it is imported
        raise CannotPrint(f"WeasyPrint needs Pango on this machine: {error}") from None
    # it tells of each rule of style that is for screens alone
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
    return weasyprint


def _pdf(maker: Any, html: str) -> bytes:
    made: bytes = maker.HTML(string=html, url_fetcher=_nothing).write_pdf()
    return made


def _nothing(url: str, *rest: Any, **more: Any) -> NoReturn:
    """Fetch nothing: a page is whole."""
    raise ValueError(f"a sheet asks for nothing: {url}")
