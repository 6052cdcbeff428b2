"""What was read of a station, in one line, so that a misreading is seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pathprofile.station.catalogue import MODES

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["described", "set_up_words"]


def described(stated: Mapping[str, Any], assumed: Sequence[str]) -> str:
    """Place, all that goes into the book beside it, and what is assumed.

    Parameters
    ----------
    stated : mapping
        A station as the book has it.
    assumed : sequence of str
        What the list left open and was filled in.
    """
    read = ["beacon or the like: it does not answer"] if stated.get("receive_only") else []
    read += [set_up_words(set_up) for set_up in stated.get("set_ups", ())]
    if hours := stated.get("listening_hours"):
        read.append(f"listens {', '.join(hours)} {stated['time_zone']}")
    elif zone := stated.get("time_zone"):
        read.append(f"time zone {zone}")
    phrases = [stated["place"], ", ".join(read)]
    if notes := stated.get("notes"):
        phrases.append(f"kept as a note: {notes}")
    open_too = [] if stated.get("set_ups") else ["band, mode and equipment"]
    open_too += list(
        dict.fromkeys(_modes_assumed(each) for each in stated.get("set_ups", ()) if "modes" not in each)
    )
    if assumed or open_too:
        phrases.append(f"assumed: {', '.join([*assumed, *open_too])}")
    return "; ".join(phrase for phrase in phrases if phrase)


def set_up_words(set_up: Mapping[str, Any]) -> str:
    """Write a set-up as a phrase: ``2 m, FM, 25 W, vertical``."""
    words = [*set_up.get("bands", ()), *(MODES[mode].label for mode in set_up.get("modes", ()))]
    sends, listens = set_up.get("transmit_mhz"), set_up.get("receive_mhz")
    if sends is not None:
        words.append(f"sends on {sends:g} MHz")
    if listens is not None:
        words.append(f"listens on {listens:g} MHz")
    if sends is not None and listens is not None:
        words.append(f"shift {listens - sends:+.6g} MHz")
    if "tone_hz" in set_up:
        words.append(f"tone {set_up['tone_hz']:g} Hz")
    if "power_w" in set_up:
        words.append(f"{set_up['power_w']:g} W")
    antenna = set_up.get("antenna", {})
    words += [antenna["kind"]] if "kind" in antenna else []
    words += [f"{antenna[gain]:g} dB{gain[-1]}" for gain in ("gain_dbi", "gain_dbd") if gain in antenna]
    if "polarization" in set_up:
        words.append(set_up["polarization"])
    if "height_m" in set_up:
        words.append(f"{set_up['height_m']:g} m high")
    return ", ".join(words)


def _modes_assumed(set_up: Mapping[str, Any]) -> str:
    """Say which modes a set-up that states none is taken to have."""
    known_mhz = set_up.get("receive_mhz", set_up.get("transmit_mhz"))
    modes = "any mode" if known_mhz is None else f"the modes customary on {known_mhz:g} MHz"
    return f"{modes}, as none is stated"
