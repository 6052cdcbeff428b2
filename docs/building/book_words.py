"""What each key of a trip book means; which keys there are, their types and limits come from the models."""

from __future__ import annotations

from typing import Final

__all__ = ["SECTIONS", "WORDS"]

SECTIONS: Final = {
    "Book": ("The file", "What the file holds, at its top level."),
    "Trip": ("`[trip]`", "What holds for the whole day unless the command line says otherwise."),
    "Site": ("`[[sites]]`", "A place that you could drive to."),
    "ListedStation": ("`[[stations]]`", "Somebody you want to reach, or a beacon you want to hear."),
    "SetUp": (
        "`[my_set_ups.NAME]` and `[[stations.set_ups]]`",
        "From the key to the antenna. What you leave out is assumed, and the answer says so.",
    ),
    "Antenna": ("`antenna`", "A named kind, or a gain. One of them is enough."),
    "Feedline": ("`feedline`", "Cable and length, or the loss itself."),
    "Receiver": ("`receiver`", "How deaf the receiver is: a noise figure, or a sensitivity for FM."),
    "Noise": (
        "`noise`",
        "A category, or better one of three measurements, whose error is taken as 3 dB instead of 6 dB.",
    ),
    "Landmark": ("`[[landmarks]]`", "Something to aim by when the compass lies."),
}

WORDS: Final = {
    "Book": {
        "trip": "defaults of the day, below",
        "my_set_ups": "what you carry, each under a name of your own",
        "sites": "places you could drive to, in the order you like them",
        "stations": "whom you want",
        "landmarks": "what can be aimed at",
        "notes": "anything",
    },
    "Trip": {
        "tiles": "folders with elevation data, seen from the book's own folder",
        "bands": "bands wanted, best first",
        "modes": "modes wanted, best first",
        "date": "day of the trip, for magnetic north and for the Sun",
        "time_zone": "zone of the times on the sheet: `UTC`, `UTC+2`, or a name such as `Europe/Lisbon`",
        "home": "place from which distances in imported lists are checked; else the first site",
        "weights": "how much a station is wanted, by its name; 1 where nothing is said",
    },
    "Site": {
        "name": "one line; stations and sites share one list of names",
        "place": "any notation that `pathprofile locate` reads",
        "ground_m": "ground height, in place of the map's",
        "height_m": "your antenna's height here, in place of the set-up's",
        "max_height_m": "the highest mast this place allows",
        "set_ups": "which of your set-ups you can use here; left out: all",
        "notes": "anything",
    },
    "ListedStation": {
        "name": "one line; stations and sites share one list of names",
        "place": "any notation that `pathprofile locate` reads; a locator is a cell, and is treated as one",
        "set_ups": "what they have; left out: everything is assumed",
        "receive_only": "a station that can only be received, such as a beacon: it does not answer",
        "listening_hours": "`HH:MM-HH:MM`, in their own time",
        "time_zone": "theirs; needed beside `listening_hours`",
        "notes": "anything",
        "source": "written by `pathprofile book add`: where the values came from. What you correct by hand "
        "stays as you left it",
    },
    "SetUp": {
        "bands": "names or MHz; the only key that must be there",
        "modes": "left out: all of them, or those customary on the frequency that is stated",
        "antenna": "see below",
        "polarization": "left out: that of the antenna, else of the other end, else what is customary for "
        "the mode",
        "height_m": "antenna above the ground",
        "max_height_m": "no change that is suggested goes higher",
        "feedline": "see below",
        "power_w": "at the radio",
        "max_power_w": "no change that is suggested goes higher",
        "duty": "share of the time at full power, for the distance to keep; left out: the mode's",
        "receiver": "see below",
        "noise": "see below",
        "surroundings": "what stands round the antenna: roofs or trees, and the noise where none is stated",
        "receive_mhz": "where this set-up listens",
        "transmit_mhz": "where it sends; or give `shift_mhz`",
        "shift_mhz": "a repeater's shift: noted, not modelled",
        "tone_hz": "noted on the sheet",
        "packet_address": "noted on the sheet",
        "packet_speed_bit_s": "for your own record",
        "packet_path": "noted on the sheet",
        "notes": "anything",
    },
    "Antenna": {
        "kind": "a name of the table of antennas below",
        "stacked_pair": "two of them, one above the other: 2.5 dB more",
        "gain_dbi": "over an isotropic antenna; one figure, or one a band",
        "gain_dbd": "over a dipole (2.15 dB less than dBi); one figure, or one a band",
        "beamwidth_along_deg": "half-power width in the plane of the elements",
        "beamwidth_across_deg": "half-power width across them",
        "front_to_back_db": "floor of the pattern",
        "mounting": "how the elements stand",
        "pointing": "where it looks: it follows the other end, or is alike all round, or a fixed azimuth",
    },
    "Feedline": {
        "cable": "a name of the table of cables below",
        "length_m": "left out: antenna height plus 5 m",
        "connectors": "left out: 2",
        "adapters": "each counts as a connector",
        "loss_db": "measured loss, instead of cable and length",
    },
    "Receiver": {
        "noise_figure_db": "noise figure",
        "sensitivity_uv": "for 12 dB SINAD, across 50 Ω (not e.m.f.)",
        "sinad_db": "signal with noise and distortion at that sensitivity",
        "channel_khz": "needed beside `sensitivity_uv`: 12.5 or 25",
    },
    "Noise": {
        "category": "a name of the table of noise categories below",
        "extra_db": "known local noise on top: chargers, inverters, computers",
        "desensitization_db": "what strong transmitters beside you cost; only with `shared radio site`",
        "floor_dbm": "measured floor at the receiver's input, with `floor_bandwidth_khz`",
        "floor_bandwidth_khz": "bandwidth it was measured in",
        "s_reading": "what the meter shows on SSB with no signal: `S3`, `S9+10`",
        "rise_db": "how much the noise rises when the antenna replaces a 50 Ω load",
        "measured_on": "band of the measurement; needed where the set-up has several",
    },
    "Landmark": {
        "name": "what you call it",
        "place": "any notation that `pathprofile locate` reads",
        "notes": "anything",
    },
}
