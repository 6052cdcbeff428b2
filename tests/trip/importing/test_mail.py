"""Text pasted from mail."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.trip.importing.entry import Entry, Remark
from pathprofile.trip.importing.mail import read_mail


def one(line: str) -> Entry:
    (entry,) = read_mail(line)
    assert isinstance(entry, Entry), entry
    return entry


@pytest.mark.parametrize(
    ("line", "name", "place"),
    [
        ("Marsh End 46.29750 -20.93750", "Marsh End", (46.2975, -20.9375)),
        ("> 12. Marsh End: 46.29750, -20.93750", "Marsh End", (46.2975, -20.9375)),
        ("- Marsh End is at 46°17.85'N 20°56.25'W", "Marsh End", (46.2975, -20.9375)),
        ("* Marsh End\t46°17'51\"N, 20°56'15\"W", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 46 17 51 N 20 56 15 W", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End N46 17.85 W20 56.25", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End lat 46.29750 lon -20.93750", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End (Ann), lat: 46.29750, long: -20.93750", "Marsh End (Ann)", (46.2975, -20.9375)),
        ("Station 5 46.29750 -20.93750", "Station 5", (46.2975, -20.9375)),
        ("46.29750 -20.93750 Marsh End", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 46,29750 / -20,93750", "Marsh End", (46.2975, -20.9375)),
        ("Flaxmill, locator HN96nn", "Flaxmill", (46.5625, -20.875)),
        ("Flaxmill is in hn96nn", "Flaxmill", (46.5625, -20.875)),
        ("73, Marsh End (HN96mh)", "Marsh End", (46.3125, -20.95833)),
        ("Marsh End 46.29750,-20.93750", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 27T 504814 5127105", "Marsh End", (46.2975, -20.9375)),
        ("Marsh End 27T WM 04813 27104", "Marsh End", (46.2975, -20.9375)),
    ],
)
def test_a_name_and_a_place_in_any_notation(line: str, name: str, place: tuple[float, float]) -> None:
    entry = one(line)
    assert entry.name == name
    assert (entry.location.latitude_deg, entry.location.longitude_deg) == pytest.approx(place, abs=2e-5)


def test_facts_with_units_are_taken_and_the_rest_noted() -> None:
    entry = one(
        "Ferry House, 47°24.75'N 20°46.60'W, 99 km, azimuth 047, 145.500 MHz, tone 88.5, 50 W, ask for Ann"
    )
    assert entry.set_up == {"receive_mhz": 145.5, "tone_hz": 88.5, "power_w": 50}
    assert (entry.claim.distance_m, entry.claim.azimuth_deg) == (99_000.0, 47.0)
    assert entry.notes == "ask for Ann"


PLACE = "46.29750 -20.93750"
PIECES = [
    *(
        "2m",
        "70cm",
        "FM",
        "packet",
        "25W",
        "18:00-20:00",
        "24-25",
        "UTC",
        "z",
        "-0.6",
        "145.600",
        "144.300",
        "MHz",
    ),
    *(
        "beacon",
        "repeater",
        "vertical",
        "9",
        "dBi",
        "7",
        "el",
        "yagi",
        "high",
        "HN96mh",
        ",",
        ";",
        "(",
        ")",
        "…",
    ),
    *("dipole", "tone", "88.5", "Kit", "listens", "shift", "0.5", "99:99-1", "100", "dBm", "1.2", "GHz"),
]


@pytest.mark.parametrize(
    ("line", "set_up"),
    [
        (
            f"Kit {PLACE} 2m FM 25W vertical",
            {"bands": ["2 m"], "modes": ["fm"], "power_w": 25, "polarization": "vertical"},
        ),
        (f"Kate, {PLACE}, 2m packet", {"bands": ["2 m"], "modes": ["packet-1200"]}),
        (f"Kate {PLACE} … 2m packet 9600", {"bands": ["2 m"], "modes": ["packet-9600"]}),
        (f"Kit (2m/70cm, ssb + cw) {PLACE}", {"bands": ["2 m", "70 cm"], "modes": ["ssb", "morse"]}),
        (f"Kit SSB {PLACE} on 144 MHz", {"bands": ["2 m"], "modes": ["ssb"]}),
        (f"Kit {PLACE}, 144.3 usb, 0.5 kW", {"receive_mhz": 144.3, "modes": ["ssb"], "power_w": 500}),
        (
            f"Kit {PLACE}: narrow FM on 70 cm, horizontally polarized, antenna at 8 m",
            {"bands": ["70 cm"], "modes": ["fm-narrow"], "polarization": "horizontal", "height_m": 8},
        ),
        (
            f"Kit {PLACE} 7 el yagi 12m high, 2 m",
            {"bands": ["2 m"], "antenna": {"kind": "7-element beam"}, "height_m": 12},
        ),
        (
            f"Kit {PLACE} 2m, 9 dBi collinear",
            {"bands": ["2 m"], "antenna": {"gain_dbi": 9, "kind": "collinear"}},
        ),
        (f"Kit {PLACE} 6 m mast, 6 m", {"bands": ["6 m"], "height_m": 6}),
    ],
)
def test_bands_modes_power_and_antennas_are_read(line: str, set_up: dict[str, object]) -> None:
    entry = one(line)
    assert entry.name in {"Kit", "Kate"}
    assert entry.set_up == set_up
    assert (entry.notes, entry.doubts) == ("", ())


@pytest.mark.parametrize(
    ("said", "hours", "zone"),
    [
        ("18:00-20:00 UTC", ("18:00-20:00",), "UTC"),
        ("listens 1800-2000z", ("18:00-20:00",), "UTC"),
        ("QRV 18 to 20 UTC+1", ("18:00-20:00",), "UTC+1"),
        ("07:00-08:00 and 18:30-20:00 GMT", ("07:00-08:00", "18:30-20:00"), "UTC"),
        ("22:00-24:00 Europe/Lisbon", ("22:00-24:00",), "Europe/Lisbon"),
        ("19:00 - 21:00 CET", ("19:00-21:00",), "UTC+1"),
        ("19:00-21:00", ("19:00-21:00",), ""),
    ],
)
def test_listening_hours_are_read_with_their_zone(said: str, hours: tuple[str, ...], zone: str) -> None:
    entry = one(f"Marsh End {PLACE}, 2m, {said}")
    assert (entry.listening_hours, entry.time_zone, entry.notes) == (hours, zone, "")


@pytest.mark.parametrize(
    ("said", "note"),
    [
        ("2m, 19-21 local", "19-21 local"),  # whose?
        ("2m, knows: the marsh, ask at the mill", "knows: the marsh, ask at the mill"),
        ("2m, usually 18-20", "usually 18-20"),
        ("VHF", "VHF"),
        ("2m, near the beacon", "near the beacon"),
        ("25:00-26:00 UTC", "25:00-26:00 UTC"),
    ],
)
def test_what_is_not_understood_stays_as_one_readable_note(said: str, note: str) -> None:
    entry = one(f"Marsh End {PLACE}, {said}")
    assert entry.notes == note
    assert set(entry.set_up) <= {"bands"}
    assert entry.listening_hours == ()


def test_several_frequencies_are_bands_and_a_note() -> None:
    entry = one(f"Marsh End {PLACE} 144.300 and 432.200")
    assert entry.set_up == {"bands": ["2 m", "70 cm"]}
    assert entry.notes == "frequencies: 144.300 and 432.200"
    assert "several frequencies" in entry.doubts[0]


@pytest.mark.parametrize(
    "line",
    [
        f"GULL TOR repeater {PLACE} 145.600 -0.6",
        f"GULL TOR repeater 145.600 MHz (-600 kHz), {PLACE}",
        f"Gull Tor, FM repeater, {PLACE}, 145.6 -600",
        f"Gull Tor {PLACE} 145.600 MHz, shift -0.6 MHz",
    ],
)
def test_a_repeater_sends_on_its_frequency_and_listens_beside_it(line: str) -> None:
    """By common practice a repeater is known by where it sends, and the shift leads to where it listens."""
    entry = one(line)
    assert entry.set_up == {"transmit_mhz": 145.6, "receive_mhz": 145, "modes": ["fm"]}
    assert not entry.receive_only
    assert bool(entry.assumed) == ("FM" not in line)


@pytest.mark.parametrize("line", ["Lighthouse HN96fl beacon 144.44", "Lighthouse beacon, HN96fl, 144.440"])
def test_a_beacon_is_receive_only_and_sends_on_its_frequency(line: str) -> None:
    entry = one(line)
    assert entry.receive_only
    assert entry.set_up == {"transmit_mhz": 144.44}


@pytest.mark.parametrize("name", ["Packet Hill", "Beacon Hill", "Vertical Cliff", "Mast Point", "Beam End"])
def test_a_name_is_not_read_as_equipment(name: str) -> None:
    entry = one(f"{name} {PLACE} 2m")
    assert entry.name == name
    assert entry.set_up == {"bands": ["2 m"]}
    assert not entry.receive_only


def test_a_place_alone_takes_the_name_above() -> None:
    entries = list(read_mail("Stone Row\n\n   47.10417 -20.79167\n"))
    assert [(entry.line, entry.name) for entry in entries if isinstance(entry, Entry)] == [(3, "Stone Row")]


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("Marsh End 96.29750 N 20.93750 W", "latitude 96.2975 is beyond 90"),
        ("Both HN96nn or HN97sf", "two places, 'HN96nn' and 'HN97sf'"),
        ("46.29750 -20.93750", "a place without a name"),
        ("I'm in HN96nn as always", "a sentence rather than a name"),
        ("- Thornicross, south of the church", "no place found in '- Thornicross, south of the church'"),
        ("I think that he said it would be near HN96nn or so", "a sentence rather than a name"),
    ],
)
def test_doubtful_lines_are_named_with_the_reason(line: str, reason: str) -> None:
    (remark,) = read_mail(line)
    assert isinstance(remark, Remark)
    assert remark.line == 1
    assert reason in remark.text


@pytest.mark.parametrize(
    "line",
    [
        "Dear all,",
        "We use 144.300 and 432.200",
        "on 50.150 144.300 MHz",
        "call 0123 456789",
        "see you at 18:00 on 14.06.",
    ],
)
def test_prose_is_passed_over_and_counted(line: str) -> None:
    (remark,) = read_mail(line)
    assert isinstance(remark, Remark)
    assert "no place found on line 1" in remark.text


def test_a_locator_beside_coordinates_is_held_against_them() -> None:
    assert one("Flaxmill HN96nn 46.5501 -20.8801").doubts == ()
    assert "lie outside the locator HN97sf" in one("Flaxmill HN97sf 46.5501 -20.8801").doubts[0]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.sampled_from(PIECES),
        max_size=16,
    ).map(" ".join)
)
def test_no_mixture_of_facts_breaks_the_reader(text: str) -> None:
    for reading in read_mail(text):
        assert reading.line == 1
        if isinstance(reading, Entry):
            bands = set(reading.set_up.get("bands", ()))  # type: ignore[call-overload]
            stray = bands - {"2 m", "70 cm", "23 cm"}
            assert not stray or ("GHz" in text and all(band.endswith(" MHz") for band in stray))


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=st.sampled_from("ANSEWhn0169.,;°'\" -\t()<>=x\n"), max_size=120))
def test_no_text_breaks_the_reader(text: str) -> None:
    for reading in read_mail(text):
        assert reading.line >= 1


def test_a_greeting_is_no_name() -> None:
    entry = one("Dear all, Puffin Ledge is at HN96ie, best Tuesday.")
    assert entry.name == "Puffin Ledge"


@pytest.mark.parametrize(
    "said", ["2m HT", "2m handheld", "handy, 2m", "2m with a rubber duck", "2m, walkie-talkie", "HT on 2m"]
)
def test_a_radio_in_the_hand_is_no_house_antenna(said: str) -> None:
    """Left to the defaults it would be 5 dBi at 8 m; the catalogue's stub brings its own height and power."""
    entry = one(f"Marsh End {PLACE}, {said}")
    assert entry.set_up == {"bands": ["2 m"], "antenna": {"kind": "handheld stub"}}
    assert "taken as a radio in the hand with a handheld stub, 1.5 m above" in entry.doubts[0]
    assert entry.notes == ""


@pytest.mark.parametrize("said", ["comes in handy on 2m", "2m, a handy spot", "2m, HT 12", "2m, night 5"])
def test_words_that_only_look_like_a_radio_in_the_hand(said: str) -> None:
    assert "antenna" not in one(f"Marsh End {PLACE}, {said}").set_up


@pytest.mark.parametrize(
    "said", ["9 el yagi", "yagi 9 el", "9el", "9 element yagi", "9-elements", "9 éléments"]
)
def test_a_beam_of_unknown_size_is_the_next_smaller_one(said: str) -> None:
    entry = one(f"Marsh End {PLACE}, 2m {said}")
    assert entry.set_up == {"bands": ["2 m"], "antenna": {"kind": "7-element beam"}}
    assert "taken as 7-element beam, the nearest smaller one known" in entry.doubts[0]


@pytest.mark.parametrize("said", ["antenna: some yagi", "GP on the roof", "antenna of my own making"])
def test_an_antenna_that_cannot_be_read_is_named(said: str) -> None:
    entry = one(f"Marsh End {PLACE}, 2m, {said}")
    assert entry.set_up == {"bands": ["2 m"]}
    assert entry.doubts[0].startswith("kept as a note only, 5 dBi assumed: antenna '")
    assert entry.notes.startswith("antenna: ")


@pytest.mark.parametrize(
    ("said", "note"),
    [
        ("(Quim, 20 W)", "Quim"),
        ("(knows the marsh, 20 W, ask him)", "knows the marsh, ask him"),
        ("near the mill (old one)", "near the mill (old one)"),
    ],
)
def test_brackets_of_a_note_come_in_pairs(said: str, note: str) -> None:
    assert one(f"Solsona: {PLACE} {said}").notes == note
