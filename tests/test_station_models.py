import subprocess
import sys
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import LocationError, StationError
from pathprofile.station import Antenna, Feedline, Noise, Receiver, SetUp, Station

FULL = {
    "name": "Marsh End",
    "place": "46.2050, 21.3100",
    "time_zone": "UTC+1",
    "listening_hours": ["18:00-20:00", "06:30-07:00"],
    "notes": "knows the marsh",
    "set_ups": [
        {
            "bands": ["2m", 433.0],
            "modes": ["SSB", "cw"],
            "antenna": {
                "gain_dbi": {"2 m": 10, "70cm": 13.5},
                "beamwidth_along_deg": 45,
                "beamwidth_across_deg": 55,
                "front_to_back_db": 18,
                "mounting": "horizontal",
                "pointing": 225,
            },
            "polarization": "horizontal",
            "height_m": 10,
            "max_height_m": 12,
            "feedline": {"cable": "rg213", "length_m": 15, "connectors": 2, "adapters": 1},
            "power_w": 50,
            "max_power_w": 100,
            "duty": 0.4,
            "receiver": {"sensitivity_uv": 0.18, "sinad_db": 12, "channel_khz": 25},
            "noise": {"rise_db": 8, "measured_on": "2 m", "category": "residential"},
            "surroundings": "suburb",
            "receive_mhz": 144.3,
            "shift_mhz": -0.6,
            "tone_hz": 88.5,
            "packet_address": "MARSH-4",
            "packet_speed_bit_s": 1200,
            "packet_path": "RELAY",
        }
    ],
}


def with_set_up(**changes: Any) -> dict[str, Any]:
    return {"name": "Marsh End", "place": "x", "set_ups": [{"bands": ["2 m"], **changes}]}


def test_a_full_statement_is_read() -> None:
    (set_up,) = Station.read(FULL).set_ups
    assert set_up.bands == ("2 m", "70 cm")
    assert set_up.modes == ("ssb", "morse")
    assert set_up.antenna.gain_dbi == {"2 m": 10.0, "70 cm": 13.5}
    assert set_up.antenna.pointing == 225.0
    assert set_up.feedline.cable == "RG-213"
    assert set_up.feedline.adapters == 1


def test_it_comes_back_from_its_own_json() -> None:
    station = Station.read(FULL)
    assert Station.model_validate_json(station.model_dump_json()) == station


def test_schema_carries_the_limits() -> None:
    schema = Station.model_json_schema()
    power = schema["$defs"]["SetUp"]["properties"]["power_w"]["anyOf"][0]
    assert (power["minimum"], power["maximum"]) == (0.001, 10_000.0)
    assert schema["additionalProperties"] is False


def test_stations_do_not_change() -> None:
    station = Station.read(FULL)
    with pytest.raises(ValueError, match="frozen"):
        station.name = "Elsewhere"


def test_the_place_is_kept_as_typed_and_read_when_asked() -> None:
    station = Station.read(FULL)
    assert station.place == "46.2050, 21.3100"
    found = station.location()
    assert (found.latitude_deg, found.longitude_deg) == (pytest.approx(46.205), pytest.approx(21.31))
    with pytest.raises(LocationError, match="nowhere at all"):
        Station.read({"name": "A", "place": "nowhere at all"}).location()


@pytest.mark.parametrize(
    ("data", "message"),
    [
        # impossible values: field, value, limits
        (with_set_up(power_w=0), r"Marsh End: set_ups\[0\]\.power_w = 0: accepted: 0\.001 to 10000 W$"),
        (with_set_up(power_w=True), r"power_w = True: accepted: a number, 0\.001 to 10000 W"),
        (with_set_up(power_w="10 W"), r"power_w = '10 W': accepted: a number"),
        (with_set_up(power_w=float("nan")), r"power_w = nan: accepted: 0\.001 to 10000 W"),
        (
            with_set_up(antenna={"gain_dbi": 200}),
            r"set_ups\[0\]\.antenna\.gain_dbi = 200: accepted: -30 to 40 dBi",
        ),
        (
            with_set_up(antenna={"gain_dbi": {"2 m": 200}}),
            r"gain_dbi = \{'2 m': 200\}: accepted: -30 to 40 dBi",
        ),
        (with_set_up(antenna={"gain_dbi": {}}), r"state one gain, or one a band"),
        (
            with_set_up(antenna={"gain_dbi": {"7 cm": 2}}),
            r"antenna\.gain_dbi = .*unknown band '7 cm'; did you mean 70 cm",
        ),
        (
            with_set_up(antenna={"gain_dbi": {"6 m": 2}}),
            r"antenna gain on 6 m: not among the bands of this set-up: 2 m",
        ),
        (
            with_set_up(antenna={"pointing": "north"}),
            r"pointing = 'north': accepted: 'other end', 'all round', or",
        ),
        (
            with_set_up(feedline={"cable": "RG-58", "length_m": -5}),
            r"feedline\.length_m = -5: accepted: 0 to 500 m",
        ),
        (
            with_set_up(feedline={"connectors": 2.5}),
            r"connectors = 2\.5: accepted: a whole number, 0 to 30 pieces",
        ),
        (with_set_up(height_m=0), r"height_m = 0: accepted: 0\.5 to 3000 m above the ground"),
        (
            with_set_up(height_m=15, max_height_m=10),
            r"height_m = 15: above the stated limit max_height_m = 10",
        ),
        (with_set_up(power_w=100, max_power_w=50), r"power_w = 100: above the stated limit max_power_w = 50"),
        (with_set_up(receive_mhz=433.0), r"receive_mhz = 433: outside the bands of this set-up: 2 m"),
        (with_set_up(bands=[]), r"bands = \[\]: name at least one band"),
        (
            with_set_up(surroundings="forest"),
            r"surroundings = 'forest': accepted: 'open', 'suburb' or 'wooded'",
        ),
        # unknown names: the nearest known ones
        (
            with_set_up(feedline={"cable": "RG-2134"}),
            r"feedline\.cable: unknown cable 'RG-2134'; did you mean RG-213",
        ),
        (
            with_set_up(antenna={"kind": "dipol"}),
            r"antenna\.kind: unknown antenna 'dipol'; did you mean dipole",
        ),
        (with_set_up(modes=["sbb"]), r"modes: unknown mode 'sbb'; did you mean ssb"),
        (
            with_set_up(noise={"category": "rurall"}),
            r"noise\.category: unknown noise category 'rurall'; did you mean rural",
        ),
        # unknown keys
        (with_set_up(powerw=5), r"set_ups\[0\]\.powerw: unknown key; did you mean power_w"),
        (with_set_up(antenna={"gain": 5}), r"set_ups\[0\]\.antenna\.gain: unknown key; did you mean gain_db"),
        ({"name": "A", "place": "x", "zzz": 1}, r"A: zzz: unknown key; known: name, place, set_ups"),
        # choose one
        (
            with_set_up(receiver={"sensitivity_uv": 0.2, "channel_khz": 25, "noise_figure_db": 5}),
            r"receiver\.sensitivity_uv and noise_figure_db both state the receiver's noise; choose one",
        ),
        (
            with_set_up(antenna={"gain_dbi": 5, "gain_dbd": 3}),
            r"gain_dbi and gain_dbd both state the gain; choose one",
        ),
        (
            with_set_up(noise={"rise_db": 3, "s_reading": "S3"}),
            r"s_reading and rise_db both state the noise; choose one",
        ),
        (
            with_set_up(feedline={"loss_db": 1, "cable": "RG-58"}),
            r"loss_db and cable with length_m both state the loss",
        ),
        (with_set_up(transmit_mhz=145.0, shift_mhz=0.6), r"both state the transmit frequency; choose one"),
        (
            with_set_up(polarization="horizontal", antenna={"mounting": "vertical"}),
            r"polarization = 'horizontal', antenna\.mounting = 'vertical': choose one",
        ),
        (
            with_set_up(polarization="horizontal", antenna={"kind": "collinear"}),
            r"polarization = 'horizontal': a collinear is vertical; leave one of them out",
        ),
        # what belongs together
        (
            with_set_up(receiver={"sensitivity_uv": 0.2}),
            r"channel_khz = None: 12\.5 or 25 is needed beside sensitivity_uv",
        ),
        (
            with_set_up(receiver={"sensitivity_uv": 0.2, "channel_khz": 25, "sinad_db": 20}),
            r"receiver\.sinad_db = 20: accepted: 12 to 12 dB \(the only SINAD with a rule\)",
        ),
        (
            with_set_up(noise={"floor_dbm": -110}),
            r"floor_dbm and floor_bandwidth_khz belong together; state both",
        ),
        (
            with_set_up(noise={"desensitization_db": 6}),
            r"desensitization_db belongs to category 'shared radio site'",
        ),
        (with_set_up(noise={"s_reading": "S99"}), r"s_reading = 'S99': accepted: S0 to S9, or S9\+10"),
        (with_set_up(bands=["2 m", "6 m"], noise={"rise_db": 3}), r"noise\.measured_on is needed"),
        (
            with_set_up(noise={"rise_db": 3, "measured_on": "6 m"}),
            r"noise\.measured_on = '6 m': not among the bands",
        ),
        (
            {"name": "A", "place": "x", "listening_hours": ["8-9"]},
            r"listening_hours = \['8-9'\]: accepted: HH:MM-HH:MM, such as '08:00-09:00'",
        ),
        (
            {"name": "A", "place": "x", "listening_hours": "19-21", "time_zone": "UTC"},
            r"listening_hours = '19-21': accepted: HH:MM-HH:MM, such as '19:00-21:00'",
        ),
        (
            {"name": "A", "place": "x", "listening_hours": "evenings"},
            r"listening_hours = 'evenings': accepted: HH:MM-HH:MM, such as '18:00-20:00'",
        ),
        (
            {"name": "A", "place": "x", "listening_hours": 19},
            r'listening_hours = 19: accepted: a list of HH:MM-HH:MM, such as \["18:00-20:00"\]',
        ),
        ({"name": "A", "place": "x", "listening_hours": ["24:30-24:59"]}, r"accepted: HH:MM-HH:MM"),
        (
            {"name": "A", "place": "x", "listening_hours": ["18:00-20:00"]},
            r"time_zone is needed beside listening_hours",
        ),
        (
            {"name": "A", "place": "x", "time_zone": "../etc"},
            r"time_zone = '\.\./etc': accepted: UTC, UTC\+2",
        ),
        # not what it should be at all
        ({"place": "x"}, r"^name is needed"),
        ({"name": "A"}, r"^A: place is needed"),
        (
            with_set_up(antenna=7),
            r'antenna = 7: a table of keys and values is needed, such as antenna = \{ kind = "dipole" \}',
        ),
        (
            with_set_up(noise="rural"),
            r"noise = 'rural': a table .* is needed, such as noise = \{ category = \"rural\" \}",
        ),
        (with_set_up(antenna="dipol"), r"antenna\.kind: unknown antenna 'dipol'; did you mean dipole"),
        (with_set_up(antenna="99 dBi"), r"antenna\.gain_dbi = 99\.0: accepted: -30 to 40 dBi"),
        (
            {"name": "A", "place": "x", "set_ups": "2 m"},
            r"set_ups = '2 m': a list is needed, such as \[\[stations\.set_ups\]\] with bands",
        ),
        (
            {"name": "A", "place": "x", "set_ups": [7]},
            r"set_ups\[0\] = 7: a table of keys and values is needed",
        ),
        ("Marsh End", r"Station 'Marsh End': a table of keys and values is needed"),
        ({1: 2}, r"Station \{1: 2\}: a table of keys and values is needed"),
    ],
)
def test_refusals(data: object, message: str) -> None:
    with pytest.raises(StationError, match=message) as caught:
        Station.read(data)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_more_than_one_fault_is_counted() -> None:
    with pytest.raises(StationError, match=r"height_m = -1: accepted.*\(and 1 more\)$"):
        SetUp.read({"bands": ["2 m"], "power_w": 0, "height_m": -1})


def test_constructing_refuses_as_reading_does() -> None:
    with pytest.raises(StationError, match=r"power_w = 0: accepted"):
        SetUp(bands=("2 m",), power_w=0)


@pytest.mark.parametrize("zone", ["UTC", "UTC+2", "UTC-3:30", "Europe/Lisbon"])
def test_time_zones(zone: str) -> None:
    assert Station.read({"name": "A", "place": "x", "time_zone": zone}).time_zone == zone


def test_one_band_needs_no_list() -> None:
    assert SetUp.read({"bands": "2 m", "modes": "fm"}).bands == ("2 m",)


def test_one_span_of_hours_needs_no_list() -> None:
    station = Station.read({"name": "A", "place": "x", "time_zone": "UTC", "listening_hours": "19:00-21:00"})
    assert station.listening_hours == ("19:00-21:00",)


@pytest.mark.parametrize(
    ("text", "table"),
    [
        ("j-pole", {"kind": "j-pole"}),
        ("3 elements yagi", {"kind": "3-element beam"}),
        ("9 dBi", {"gain_dbi": 9}),
        ("7.5dBd", {"gain_dbd": 7.5}),
    ],
)
def test_a_simple_antenna_needs_no_table(text: str, table: dict[str, object]) -> None:
    assert SetUp.read({"bands": "2 m", "antenna": text}) == SetUp.read({"bands": "2 m", "antenna": table})


def test_bands_are_covered_to_their_edges() -> None:
    set_up = SetUp.read({"bands": ["2 m", 160.0]})
    assert [set_up.covers(f) for f in (143.9, 144.0, 148.0, 150.0, 158.0, 165.0)] == [
        False,
        True,
        True,
        False,
        True,
        False,
    ]


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=3),
    max_leaves=6,
)


@pytest.mark.parametrize("model", [Station, SetUp, Antenna, Feedline, Receiver, Noise])
@given(data=st.data())
def test_junk_is_read_or_refused_in_one_line(model, data: st.DataObject) -> None:
    fields = st.sampled_from([*model.model_fields, "extra"])
    stated = data.draw(st.dictionaries(fields, JUNK, max_size=4))
    if model is SetUp:
        stated.setdefault("bands", ["2 m"])
    try:
        model.read(stated)
    except StationError as error:
        refusal = str(error)
    else:
        refusal = "none"
    assert refusal
    assert "\n" not in refusal


def test_the_package_imports_pydantic_only_for_a_model() -> None:
    code = (
        "import sys, pathprofile.station, pathprofile.station.catalogue\n"
        "print('pydantic' in sys.modules)\n"
        "pathprofile.station.SetUp\n"
        "print('pydantic' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]


def test_no_other_names() -> None:
    import pathprofile.station

    with pytest.raises(AttributeError, match="has no attribute 'Tower'"):
        pathprofile.station.Tower  # noqa: B018 - the lookup is what is tested
