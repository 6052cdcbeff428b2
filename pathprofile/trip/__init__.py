"""A day out: the book of stations and sites, lists read into it, and what follows from it.

The models need pydantic, which is imported when one of these names is first asked for and not before.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathprofile.trip.book import Book, Landmark, ListedStation, Site, Trip, read_book
    from pathprofile.trip.finding import find_book
    from pathprofile.trip.importing import ImportReport, Remark, import_into
    from pathprofile.trip.names import name_key, safe_file_name, safe_file_names
    from pathprofile.trip.starter import write_starter
    from pathprofile.trip.tiles import BookPaths, PairPath, tiles_for

__all__ = [
    "Book",
    "BookPaths",
    "ImportReport",
    "Landmark",
    "ListedStation",
    "PairPath",
    "Remark",
    "Site",
    "Trip",
    "find_book",
    "import_into",
    "name_key",
    "read_book",
    "safe_file_name",
    "safe_file_names",
    "tiles_for",
    "write_starter",
]

_HOMES = {
    **dict.fromkeys(("Book", "Landmark", "ListedStation", "Site", "Trip", "read_book"), "book"),
    **dict.fromkeys(("ImportReport", "Remark", "import_into"), "importing"),
    **dict.fromkeys(("name_key", "safe_file_name", "safe_file_names"), "names"),
    **dict.fromkeys(("BookPaths", "PairPath", "tiles_for"), "tiles"),
    "find_book": "finding",
    "write_starter": "starter",
}


def __getattr__(name: str) -> object:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
