"""The one distance to keep from your antenna that screen, picture and JSON of an answer give."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.link.exposure import exposures_by_set_up

if TYPE_CHECKING:
    from pathprofile.changes.ranking import Changes
    from pathprofile.contact import Contact

__all__ = ["distance_to_keep_m"]


def distance_to_keep_m(contact: Contact, changes: Changes | None = None) -> float | None:
    """Most distance that anything the answer offers asks for, in front of your antenna [m].

    Parameters
    ----------
    contact : Contact
    changes : Changes, optional
        What was offered beside it: more power or gain asks for more.

    Returns
    -------
    float or None
        Over every mode on the band, every row of the table of modes and bands, and the changes, which are
        offered where the contact is not solid. A handheld itself has none; None where you do not send.
    """
    link = contact.link
    if link.you.receive_only:
        return None
    by_mode = exposures_by_set_up(contact.you.station, [link.frequency_mhz])
    distances = [one.keep_m for one in (link.exposure[0], *by_mode)]
    distances += [row.keep_m for row in contact.modes]
    if changes is not None and link.pair.verdict.word != "solid":
        distances += [change.keep_m for change in changes.ranked]
    return max((each for each in distances if each is not None), default=None)
