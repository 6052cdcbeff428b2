"""Writing a trip sheet: HTML by ourselves, PDF and PNG through a browser on this machine."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pathprofile.atomic import write_atomically
from pathprofile.errors import OutputError
from pathprofile.export.sheet.browser import Tab, file_url, find_browser, open_tab
from pathprofile.export.sheet.page import sheet_html

if TYPE_CHECKING:
    from pathprofile.trip.sheet import Sheet

__all__ = ["PAPERS", "SUFFIXES", "write_sheet"]

SUFFIXES = (".html", ".pdf", ".png")
PAPERS = {"a4": (210.0 / 25.4, 297.0 / 25.4), "letter": (8.5, 11.0)}
_PHONE_WIDTH = 360
_PHONE_SCALE = 3.0


def write_sheet(
    sheet: Sheet, path: Path | str, *, paper: Literal["a4", "letter"] = "a4", overwrite: bool = True
) -> None:
    """Write a sheet; the suffix says which kind.

    Parameters
    ----------
    sheet : Sheet
    path : Path or str
        A name ending in ``.html``; ``.pdf``; or ``.png`` for a picture of page one, 360 pixels wide at three
        dots a pixel, for a phone's gallery.
    paper : {"a4", "letter"}
        Of a PDF.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another suffix or paper; where PDF or PNG is asked for and no browser is installed; and when the
        file cannot be written.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in SUFFIXES:
        raise OutputError(
            f"cannot write a sheet into {str(path)!r}: give a name that ends in .html, .pdf or .png"
        )
    if paper not in PAPERS:
        raise OutputError(f"paper {paper!r}: accepted {' or '.join(PAPERS)}")
    html = sheet_html(sheet)
    if suffix == ".html":
        write_atomically(path, html.encode("utf-8"), overwrite=overwrite)
        return
    program = find_browser()
    if program is None:
        raise OutputError(
            f"cannot write {str(path)!r}: PDF and PNG are printed by a browser and none was found; install "
            "chromium, or write .html and print it from any browser"
        )
    try:
        with tempfile.TemporaryDirectory(prefix="pathprofile-") as folder, open_tab(program) as tab:
            page = Path(folder) / "sheet.html"
            page.write_text(html, encoding="utf-8")
            content = _printed(tab, page, paper) if suffix == ".pdf" else _pictured(tab, page)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(
            f"cannot write {str(path)!r}: {error.strerror or error} in the temporary folder "
            f"{tempfile.gettempdir()!r}; make room or set TMPDIR to another"
        ) from error
    write_atomically(path, content, overwrite=overwrite)


def _printed(tab: Tab, page: Path, paper: str) -> bytes:
    tab.open(file_url(page))
    return tab.pdf(*PAPERS[paper])


def _pictured(tab: Tab, page: Path) -> bytes:
    """Page one as a phone shows it, without the fields, which a picture cannot use."""
    tab.resize(_PHONE_WIDTH, 800, _PHONE_SCALE, mobile=True)
    tab.open(file_url(page))
    tab.evaluate(
        'document.querySelectorAll("#live, #page-one .log").forEach((part) => { part.hidden = true; })'
    )
    height = tab.evaluate('document.getElementById("page-one").getBoundingClientRect().bottom + 8')
    return tab.png({"x": 0, "y": 0, "width": _PHONE_WIDTH, "height": float(height)})
