"""A first book to fill in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pathprofile.atomic import write_atomically

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["STARTER", "write_starter"]

STARTER = """\
# A book: who is wanted, where I could go, what I carry. All places below are invented; put yours instead.
# Lines that start with # are remarks. Every key but name and place may be left out: what is not said is
# assumed, and the result says so.
#
# A place is written as latitude and longitude   46.29750 -20.93750    or  46°17.85'N 20°56.25'W
#                        or as a locator         HN96mh                (an area: odds, not one figure)
#                        or as UTM or MGRS       27T 504814 5127105    or  27T WM 04813 27104

[trip]
tiles = ["."]                    # folders with elevation data, seen from this file
bands = ["2 m", "70 cm"]
modes = ["ssb", "fm"]
# date = 2026-06-14              # the day you go
# time_zone = "UTC+1"            # or a name, such as "Atlantic/Azores"
# home = "47.41250 -20.77667"    # distances in lists that you import are checked from here

[trip.weights]                   # how much a station is wanted: 1 where nothing is said, 0 to leave it out
"Marsh End" = 3

# What you carry. Each set-up has a name of your own; sites use all of them unless they name some.
[my_set_ups.rucksack]
bands = ["2 m", "70 cm"]
power_w = 10
height_m = 3                     # of the antenna above the ground
max_height_m = 6                 # as far as the mast goes
antenna = "3-element beam"       # or its gain: "7.5 dBi"; more about it: { kind = "dipole", pointing = 225 }
feedline = { cable = "RG-58", length_m = 6, connectors = 2, adapters = 0 }   # or { loss_db = 1.5 }
# noise = { category = "rural", extra_db = 3 }   # extra: chargers, inverters, computers close by
# receiver = { noise_figure_db = 5 }             # where you know it
# modes = ["ssb", "fm"]                          # left out: all, or those customary on the frequency stated
# polarization = "horizontal"                    # left out: the other end's, else the custom of the mode

# Another one, for FM with what fits a pocket.
# [my_set_ups.pocket]
# bands = ["2 m"]
# modes = ["fm"]
# power_w = 5
# antenna = "handheld stub"

# Places you could drive to.
[[sites]]
name = "Gull Tor"
place = "47.74833 -21.00083"
# ground_m = 504                 # where you know the height better than the elevation data
# max_height_m = 4               # where a tall mast cannot stand
# set_ups = ["rucksack"]
notes = "Stay away from power lines by twice the length of mast and antenna. Leave when thunder is heard."

# Who is wanted.
[[stations]]
name = "Marsh End"
place = "46.29750 -20.93750"
listening_hours = "18:00-20:00"  # several: ["07:00-08:00", "18:00-20:00"]
time_zone = "UTC"

[[stations.set_ups]]             # without any, everything about a station is assumed
bands = ["2 m"]
modes = ["ssb", "morse"]
power_w = 50
height_m = 12
antenna = "7-element beam"
noise = { category = "residential" }

[[stations]]
name = "Stone Row"
place = "HN97oc"                 # only a locator is known

# [[stations]]
# name = "Hill beacon"
# place = "47.07083 -21.03667"
# receive_only = true            # it does not answer
# [[stations.set_ups]]
# bands = ["2 m"]
# transmit_mhz = 144.45          # where it sends

# [[stations]]
# name = "Ridge repeater"
# place = "47.10000 -21.00000"
# [[stations.set_ups]]
# bands = ["2 m"]
# modes = ["fm"]
# transmit_mhz = 145.65          # where you listen
# receive_mhz = 145.05           # where you send: 0.6 MHz lower
# tone_hz = 88.5

# Something in sight to aim by.
# [[landmarks]]
# name = "mast on the middle ridge"
# place = "47.07083 -21.03667"
"""


def write_starter(path: Path | str, *, overwrite: bool = False) -> None:
    """Write a commented book to fill in; it can be read as it stands.

    Parameters
    ----------
    path : Path or str
        Where to write.
    overwrite : bool
        Whether an existing file may be replaced; never unless told.

    Raises
    ------
    OutputError
        When the file exists and may not be replaced, or cannot be written.
    """
    write_atomically(path, STARTER.encode(), overwrite=overwrite)
