"""Tables, however they are parted, headed and spelt."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathprofile.trip.importing.entry import Entry, Remark
from pathprofile.trip.importing.table import has_header, read_table

MARSH = (46.2975, -20.9375)


def split(text: str) -> tuple[list[Entry], list[Remark]]:
    readings = list(read_table(text))
    return [r for r in readings if isinstance(r, Entry)], [r for r in readings if isinstance(r, Remark)]


@pytest.mark.parametrize(
    "text",
    [
        "Name,Lat,Lon\nMarsh End,46.29750,-20.93750\n",
        "Name;Latitude;Longitude\nMarsh End;46,29750;-20,93750\n",
        "Rufzeichen;Breite (°);Länge (°)\r\nMarsh End;46,29750;-20,93750\r\n",
        "indicatif\tlatitude\tlongitude\nMarsh End\t46.29750\t-20.93750\n",
        "sep=;\nNombre;Latitud;Longitud\nMarsh End;46,29750;-20,93750\n",
        'Name,Lat,Lon\n"Marsh End","46,29750","-20,93750"\n',
        "Station | Position\nMarsh End | 46°17.85'N 20°56.25'W\n",
        'call sign,coordinates\nMarsh End,"46.29750, -20.93750"\n',
        "Lat,Lon,Name\n46.29750,-20.93750,Marsh End,,,\n",
        "Marsh End,46.29750,-20.93750\n",
        "Marsh End;46,29750;-20,93750\n",
        "Naam;Breedtegraad;Lengtegraad\nMarsh End;46°17'51\"N;20°56'15\"W\n",
    ],
)
def test_the_same_station_in_many_tables(text: str) -> None:
    entries, _ = split(text)
    assert [entry.name for entry in entries] == ["Marsh End"]
    location = entries[0].location
    assert (location.latitude_deg, location.longitude_deg) == pytest.approx(MARSH, abs=1e-9)


@pytest.mark.parametrize(
    ("header", "cell", "set_up"),
    [
        ("Power (W)", "50", {"power_w": 50}),
        ("Power", "0.05 kW", {"power_w": 50}),
        ("Leistung [mW]", "500", {"power_w": 0.5}),
        ("Power", "40 dBm", {"power_w": 10}),  # 10 W is 40 dBm by definition
        ("Height (ft)", "20", {"height_m": 6.096}),  # international foot
        ("antenna height", "6 m", {"height_m": 6}),
        ("Höhe_m", "6,5", {"height_m": 6.5}),
        ("QRG", "144,300", {"receive_mhz": 144.3}),
        ("Freq (kHz)", "144300", {"receive_mhz": 144.3}),
        ("Frequency", "1.296 GHz", {"receive_mhz": 1296}),
        ("CTCSS", "88,5 Hz", {"tone_hz": 88.5}),
        ("Band", "2m / 70cm", {"bands": ["2 m", "70 cm"]}),
        ("Mode", "SSB CW", {"modes": ["ssb", "morse"]}),
        ("Mode", "packet 9600 / narrow FM", {"modes": ["packet-9600", "fm-narrow"]}),
        ("Antenna", "j-pole", {"antenna": {"kind": "j-pole"}}),
        ("Antenne", "7 el yagi", {"antenna": {"kind": "7-element beam"}}),
        ("Antenna", "9 dBi", {"antenna": {"gain_dbi": 9}}),
        ("Antenna", "collinear, 7,5 dBd", {"antenna": {"gain_dbd": 7.5, "kind": "collinear"}}),
        ("Gain (dBd)", "7", {"antenna": {"gain_dbd": 7}}),
        ("Antenna", "vertical", {"polarization": "vertical"}),
        ("Antenna (m)", "12", {"height_m": 12}),
        ("Polarisation", "H", {"polarization": "horizontal"}),
    ],
)
def test_units_come_from_the_header_or_the_cell(header: str, cell: str, set_up: dict[str, object]) -> None:
    entries, _ = split(f"Name;Locator;{header}\nMarsh End;HN96mh;{cell}\n")
    assert entries[0].set_up == set_up
    assert entries[0].doubts == ()


@pytest.mark.parametrize(
    ("header", "cell", "doubt"),
    [
        ("Power", "lots", "power 'lots' is not understood"),
        ("Freq", "7", "frequency '7' is out of range"),
        ("Height", "40 yards", "unknown unit 'yards'"),
        ("Mode", "smoke", "unknown mode 'smoke'"),
        ("Band", "9 m", "unknown band '9 m'"),
        ("Antenna", "discone", "unknown antenna 'discone'"),
        ("Antenna", "9", "name a kind, or a gain in dBi or dBd"),
        ("Polarization", "up", "polarization 'up' is not understood"),
        ("Shift", "-0.6", "a shift without a frequency"),
        ("Hours", "dawn", "hours 'dawn' are not understood"),
    ],
)
def test_what_is_not_understood_is_left_out_and_said(header: str, cell: str, doubt: str) -> None:
    entries, _ = split(f"Name;Locator;{header}\nMarsh End;HN96mh;{cell}\n")
    assert entries[0].set_up == {}
    assert doubt in entries[0].doubts[0]
    assert cell in entries[0].notes  # nothing is lost


def test_distances_are_claims_with_their_unit() -> None:
    entries, _ = split("Name;Loc;Dist (mi);Az\nMarsh End;HN96mh;100;047°\n")
    assert entries[0].claim.distance_m == pytest.approx(160_934.4)
    assert entries[0].claim.distance_text == "100 mi"
    assert entries[0].claim.azimuth_deg == 47.0
    entries, _ = split("Name;Loc;Dist\nMarsh End;HN96mh;100\n")
    assert not entries[0].claim.has_unit


def test_a_beacon_is_receive_only_and_its_frequency_is_sent() -> None:
    entries, _ = split("Name;Type;Loc;Freq\nLamp Skerry;Beacon;HN96fl;144.44\n")
    assert entries[0].receive_only
    assert entries[0].set_up == {"transmit_mhz": 144.44}
    entries, _ = split("Name;Loc\nLamp Skerry beacon;HN96fl\n")
    assert entries[0].doubts == ("called a beacon, so taken as receive-only",)


def test_a_repeater_of_a_table_has_its_shift() -> None:
    entries, _ = split("Name;Type;Loc;Freq;Shift;CTCSS\nRidge;repeater;HN96fl;145,650;-600 kHz;88,5\n")
    assert entries[0].set_up == {
        "transmit_mhz": 145.65,
        "receive_mhz": 145.05,
        "tone_hz": 88.5,
        "modes": ["fm"],
    }
    assert entries[0].assumed == ("FM, as it is a repeater",)


@pytest.mark.parametrize(
    ("header", "cells", "zone"),
    [
        ("Hours (UTC)", "1800-2000", "UTC"),
        ("Hours;Time zone", "18-20;UTC+2", "UTC+2"),
        ("Hours", "18:00-20:00 Europe/Lisbon", "Europe/Lisbon"),
        ("Listening hours", "18:00-20:00", ""),
    ],
)
def test_hours_of_a_table(header: str, cells: str, zone: str) -> None:
    entries, _ = split(f"Name;Locator;{header}\nMarsh End;HN96mh;{cells}\n")
    assert (entries[0].listening_hours, entries[0].time_zone) == (("18:00-20:00",), zone)
    assert (entries[0].notes, entries[0].doubts) == ("", ())


def test_towns_hours_and_unknown_columns_are_not_lost_silently() -> None:
    entries, remarks = split("Name;QTH;Loc;Hours;Shoe size;Altitude\nAnn;Flaxmill;HN96nn;18:00-20:00;43;99\n")
    assert entries[0].notes == "Flaxmill"
    assert (entries[0].listening_hours, entries[0].time_zone) == (("18:00-20:00",), "")
    assert remarks == [Remark(1, "", "columns not used: Shoe size, Altitude")]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("=1+1,46.2975,-20.9375", "the name is a spreadsheet formula, '=1+1'"),
        ("\"=cmd|' /C calc'!A0\",46.2975,-20.9375", "the name is a spreadsheet formula"),
        ("@SUM(A1),46.2975,-20.9375", "the name is a spreadsheet formula"),
        (",46.2975,-20.9375", "there is no name"),
        ("<i></i>,46.2975,-20.9375", "no name is left"),
        ("x" * 81 + ",46.2975,-20.9375", "the name has 81 characters, at most 80"),
        ("Marsh End,46.2975,", "only one of latitude and longitude is given"),
        ("Marsh End,,", "no position is given"),
        ("Marsh End,146.2975,-20.9375", "latitude 146.2975 is beyond 90 degrees"),
        ("Marsh End,46,2975,-20,9375", "5 cells under 3 headers; a decimal comma"),
        ('"Marsh End,46.2975,-20.9375', "a quotation mark never closes"),
        ("Marsh End,=A1,-20.9375", "cannot read"),
    ],
)
def test_a_bad_row_costs_that_row_alone(row: str, reason: str) -> None:
    entries, remarks = split(f"Name,Lat,Lon\n{row}\nOakenby,46.95750,-20.81750\n")
    assert [entry.name for entry in entries] == ["Oakenby"]
    assert [remark.line for remark in remarks] == [2]
    assert reason in remarks[0].text


def test_a_formula_without_headers_is_seen_too() -> None:
    _, remarks = split('"=HYPERLINK(1)",46.29750,-20.93750\n')
    assert any("spreadsheet formula" in remark.text for remark in remarks)


def test_markup_in_a_name_is_taken_off_and_said() -> None:
    entries, _ = split("Name,Lat,Lon\n<script>x</script><b>Marsh</b> End,46.29750,-20.93750\n")
    assert entries[0].name == "xMarsh End"
    assert "markup" in entries[0].doubts[0]


def test_a_cell_may_run_over_lines_and_lines_are_still_counted() -> None:
    entries, remarks = split('Name,Loc,Notes\nA,HN96mh,"one\ntwo"\nB,HN96mh,\n=1,HN96mh,\n')
    assert [(entry.line, entry.notes) for entry in entries] == [(2, "one two"), (4, "")]
    assert [remark.line for remark in remarks] == [5]


def test_headers_are_found_below_a_title() -> None:
    entries, remarks = split("My list\n\nName,Lat,Lon\nMarsh End,46.29750,-20.93750\n")
    assert entries[0].line == 4
    assert "what stands above was passed over" in remarks[0].text
    assert has_header("My list\nName,Lat,Lon\n")
    assert not has_header("Dear all, here is the list\n")


def test_columns_with_unknown_heads_are_told_by_what_stands_in_them() -> None:
    entries, remarks = split("Ham;Spot;QRG;Mode\nAnn;HN96nn;144,300;ssb\nTom;46.29750 -20.93750;;\n")
    assert [entry.name for entry in entries] == ["Ann", "Tom"]
    assert [remark.text for remark in remarks] == [
        "places taken from column 'Spot'",
        "names taken from column 'Ham'",
    ]


@settings(max_examples=100, deadline=None)
@given(st.text(alphabet=st.sampled_from('Aa1.,;|\t"\n=- <>°'), max_size=150))
def test_no_text_breaks_the_reader(text: str) -> None:
    for reading in read_table("Name;Lat;Lon;Notes\n" + text):
        assert reading.line >= 1


@pytest.mark.parametrize(
    ("cell", "antenna"),
    [
        ("HT", {"kind": "handheld stub"}),
        ("ht, rubber duck", {"kind": "handheld stub"}),
        ("portable whip", {"kind": "handheld stub"}),
        ("HT on the roof", {"kind": "handheld stub"}),  # rather too little than too much
        ("9 el yagi", {"kind": "7-element beam"}),
        ("9el", {"kind": "7-element beam"}),
        ("yagi 9 el, 12 dBi", {"gain_dbi": 12, "kind": "7-element beam"}),
    ],
)
def test_an_antenna_taken_for_a_known_one_is_named(cell: str, antenna: dict[str, object]) -> None:
    entries, _ = split(f"Name;Locator;Antenna\nMarsh End;HN96mh;{cell}\n")
    assert entries[0].set_up == {"antenna": antenna}
    assert f"'{cell}' taken as " in entries[0].doubts[0]


def test_another_antenna_on_a_radio_in_the_hand_leaves_its_power_small() -> None:
    entries, _ = split("Name;Locator;Antenna\nMarsh End;HN96mh;HT with 5/8-wave\n")
    assert entries[0].set_up == {"antenna": {"kind": "5/8-wave"}, "power_w": 5}
    assert entries[0].assumed == ("5 W, as it is a radio in the hand",)


def test_the_way_an_antenna_stands_is_no_part_of_its_kind() -> None:
    entries, _ = split("Name;Locator;Antenna\nMarsh End;HN96mh;vertical dipole\n")
    assert entries[0].set_up == {"antenna": {"kind": "dipole"}, "polarization": "vertical"}
    assert entries[0].doubts == ()


def test_until_an_antenna_is_known_the_assumed_gain_is_said() -> None:
    entries, _ = split("Name;Locator;Antenna\nMarsh End;HN96mh;discone\nAsh;HN96mh;discone 3 dBi\n")
    assert entries[0].doubts[0].startswith("kept as a note only, 5 dBi assumed: unknown antenna 'discone'")
    assert "assumed" not in entries[1].doubts[0]  # the gain is stated


def test_of_two_columns_of_names_the_first_that_is_filled_in_counts() -> None:
    """A call sign and a name: neither is lost, and no station is called after its town."""
    text = (
        "Call;Name;QTH;Locator\nHill 1;Jo;Mill End;HN96mh\n;Marsh Club;Mill End;HN96nn\n;;Mill End;HN97sf\n"
    )
    entries, remarks = split(text)
    assert [(entry.name, entry.notes) for entry in entries] == [
        ("Hill 1", "Jo; Mill End"),
        ("Marsh Club", "Mill End"),
        ("Mill End", "Mill End"),
    ]
    assert not remarks
    _, (remark,) = split("Call;Name;Locator\n;Marsh Club;nowhere\n")
    assert remark.name == "Marsh Club"
