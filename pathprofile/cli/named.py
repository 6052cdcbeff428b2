"""Places as typed, or by their names in the trip book."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.errors import LocationError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.places import Location
    from pathprofile.trip.book import Book

__all__ = ["named_places"]


def named_places(texts: Sequence[str], book: str | None) -> tuple[list[Location], Book | None]:
    """Locations of what was typed, and the book that was asked for names; None where none was needed.

    Parameters
    ----------
    texts
        Places in any notation, or names of sites and stations.
    book
        Path of the book, whose names then come first; else the one in the current folder, which is opened
        only for what is no place.

    Raises
    ------
    LocationError
        For what is neither a place nor a name.
    """
    from pathprofile.places import parse_location

    if book is None:
        try:
            return [parse_location(text) for text in texts], None
        except LocationError:
            pass  # perhaps a name; if not, the same refusal comes again below
    from pathprofile.cli.parties import book_in_use, party_named

    in_use = book_in_use(book)
    return [party_named(text, in_use, "open")[0].location for text in texts], in_use
