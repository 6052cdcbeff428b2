import subprocess
import sys

import pytest

from pathprofile.errors import OutOfRangeError, StationError
from pathprofile.link import DEFAULTS, NoFit, equip, equip_pair, equip_set_up
from pathprofile.link.modes import default_polarization
from pathprofile.station import SetUp, Station

MARSH_END = {
    "name": "Marsh End",
    "place": "invented",
    "set_ups": [
        {"bands": ["2 m"], "modes": ["ssb", "morse"], "antenna": {"kind": "5-element beam"}, "power_w": 50},
        {"bands": ["2 m"], "modes": ["fm"], "antenna": {"kind": "collinear"}, "height_m": 10},
        {"bands": ["6 m"], "antenna": {"kind": "collinear"}},
        {"bands": [446.1, 160.0], "antenna": {"gain_dbi": {"160 MHz": 2.0}}},
    ],
}


@pytest.fixture
def marsh_end() -> Station:
    return Station.read(MARSH_END)


def test_a_station_without_set_ups_is_assumed_whole() -> None:
    station = Station.read({"name": "Stone Row", "place": "invented"})
    end = equip(station, 145.0, "fm")
    assert not isinstance(end, NoFit)
    # an unstated far station: 25 W, vertical 5 dBi at 8 m, suburb (common practice)
    assert (end.power_w, end.polarization, end.gain_dbi, end.height_m, end.surroundings) == (
        25.0,
        "vertical",
        5.0,
        8.0,
        "suburb",
    )
    assert end.noise.category == "residential"
    named = {assumption.what for assumption in end.assumed}
    assert named == {
        "polarization",
        "antenna gain",
        "antenna height",
        "power",
        "feedline",
        "surroundings",
        "noise",
        "noise figure",
        "duty",
    }
    assert all(a.station == "Stone Row" and a.source and a.value for a in end.assumed)


def test_what_is_stated_is_not_assumed() -> None:
    end = equip_set_up(
        SetUp.read(
            {
                "bands": ["2 m"],
                "antenna": {"kind": "log-periodic"},
                "polarization": "horizontal",
                "height_m": 6,
                "feedline": {"cable": "RG-213", "length_m": 10, "connectors": 2, "adapters": 1},
                "power_w": 10,
                "duty": 0.5,
                "receiver": {"noise_figure_db": 4},
                "noise": {"category": "rural"},
                "surroundings": "open",
            }
        ),
        "Gull Tor",
        144.3,
        "ssb",
    )
    assert end.assumed == ()
    assert (end.gain_dbi, end.duty, end.noise_figure_db, end.noise.sigma_db) == (6.5, 0.5, 4.0, 6.0)
    # RG-213: 8.9 dB per 100 m at 150 MHz, a little less here; three connectors of 0.25 dB at 150 MHz
    assert end.line_loss_db == pytest.approx(0.88 + 0.73, abs=0.05)


def test_defaults_all_have_a_source() -> None:
    assert all(row.source for row in DEFAULTS.values())


def test_dbd_is_2_15_db_above_dbi() -> None:
    set_up = SetUp.read({"bands": ["2 m"], "antenna": {"gain_dbd": 7.85}})
    assert equip_set_up(set_up, "A", 145.0, "fm").gain_dbi == pytest.approx(10.0)


def test_a_stacked_pair_gains_2_5_db() -> None:
    set_up = SetUp.read({"bands": ["2 m"], "antenna": {"kind": "5-element beam", "stacked_pair": True}})
    assert equip_set_up(set_up, "A", 145.0, "fm").gain_dbi == pytest.approx(12.5)


@pytest.mark.parametrize(
    ("antenna", "mode", "polarization"),
    [
        ({"kind": "collinear"}, "ssb", "vertical"),
        ({"kind": "horizontal loop"}, "fm", "horizontal"),
        ({"kind": "log-periodic"}, "ssb", "horizontal"),
        ({"kind": "log-periodic"}, "fm", "vertical"),
        ({"kind": "log-periodic", "mounting": "horizontal"}, "fm", "horizontal"),
        ({}, "weak-digital", "horizontal"),
        ({}, "digital-voice", "vertical"),
    ],
)
def test_polarization_where_nothing_is_said(antenna: dict[str, object], mode: str, polarization: str) -> None:
    # vertical for FM, packet and digital voice, horizontal for SSB, Morse and weak-signal digital (practice)
    end = equip_set_up(SetUp.read({"bands": ["2 m"], "antenna": antenna}), "A", 145.0, mode)
    assert end.polarization == polarization


@pytest.mark.parametrize(
    ("mode", "expected"), [("FM", "vertical"), ("cw", "horizontal"), ("packet", "vertical")]
)
def test_default_polarization(mode: str, expected: str) -> None:
    assert default_polarization(mode) == expected


def lone(name: str, antenna: dict[str, object] | None = None, **stated: object) -> Station:
    set_ups = [{"bands": ["2 m"], **({"antenna": antenna} if antenna else {}), **stated}]
    return Station.read({"name": name, "place": "invented", "set_ups": set_ups if antenna or stated else []})


BEAM, COLLINEAR, LOOP = {"kind": "7-element beam"}, {"kind": "collinear"}, {"kind": "horizontal loop"}
HIGH_GAIN, LOW_GAIN = {"gain_dbi": 9.0}, {"gain_dbi": 6.0}  # a beam from 7.5 dBi (common practice)


@pytest.mark.parametrize(
    ("yours", "theirs", "mode", "polarizations"),
    [
        # customary: SSB horizontal, FM vertical (common practice); who can turn follows who cannot
        (lone("A", BEAM), lone("B", COLLINEAR), "ssb", "vertical vertical"),
        (lone("A", COLLINEAR), lone("B", BEAM), "ssb", "vertical vertical"),
        (lone("A", BEAM), lone("B", LOOP), "fm", "horizontal horizontal"),
        (lone("A", {"kind": "dipole"}), lone("B", COLLINEAR), "ssb", "vertical vertical"),
        (lone("A", BEAM), lone("B", polarization="vertical"), "ssb", "vertical vertical"),
        (lone("A", BEAM), lone("B", {**BEAM, "mounting": "vertical"}), "ssb", "vertical vertical"),
        (lone("A", HIGH_GAIN), lone("B", COLLINEAR), "ssb", "vertical vertical"),
        (lone("A"), lone("B", COLLINEAR), "ssb", "vertical vertical"),
        # both open: the custom
        (lone("A", BEAM), lone("B", BEAM), "ssb", "horizontal horizontal"),
        (lone("A", BEAM), lone("B", BEAM), "fm", "vertical vertical"),
        (lone("A", BEAM), lone("B"), "fm", "vertical vertical"),
        # stated or fixed at both ends: crossed they stay
        (lone("A", BEAM, polarization="horizontal"), lone("B", COLLINEAR), "ssb", "horizontal vertical"),
        (lone("A", COLLINEAR), lone("B", LOOP), "ssb", "vertical horizontal"),
        # nothing says that theirs can be turned: the custom
        (lone("A", COLLINEAR), lone("B"), "ssb", "vertical horizontal"),
        (lone("A", COLLINEAR), lone("B", power_w=10.0), "ssb", "vertical horizontal"),
        (lone("A", LOW_GAIN), lone("B", COLLINEAR), "ssb", "horizontal vertical"),
        # neither slant nor circular is a matter of turning a beam
        (lone("A", BEAM), lone("B", BEAM, polarization="circular"), "ssb", "horizontal circular"),
    ],
)
def test_an_antenna_that_can_be_turned_takes_the_other_ends_polarization(
    yours: Station, theirs: Station, mode: str, polarizations: str
) -> None:
    you, them = equip_pair(yours, theirs, 144.3, mode)
    assert not isinstance(you, NoFit)
    assert not isinstance(them, NoFit)
    assert f"{you.polarization} {them.polarization}" == polarizations


def test_a_turned_beam_lies_as_turned_and_says_whose_polarization_it_takes() -> None:
    turned, _ = equip_pair(lone("A", BEAM), lone("Marsh End", COLLINEAR), 144.3, "ssb")
    stated = equip(lone("A", BEAM, polarization="vertical"), 144.3, "ssb")
    assert not isinstance(turned, NoFit)
    assert not isinstance(stated, NoFit)
    assert turned.pattern == stated.pattern
    assert turned.sources["polarization"] == "assumed: turned to that of Marsh End"


def test_a_pair_without_the_band_says_who_lacks_it(marsh_end: Station) -> None:
    you, them = equip_pair(lone("A", BEAM), marsh_end, 432.2, "ssb")
    assert you == NoFit("no 70 cm antenna at A")
    assert them == NoFit("no 70 cm antenna at Marsh End")


def test_a_handheld_has_no_feedline_little_power_and_7_db() -> None:
    end = equip_set_up(
        SetUp.read({"bands": ["70 cm"], "antenna": {"kind": "handheld stub"}}), "A", 433.0, "fm"
    )
    assert (end.line_loss_db, end.power_w, end.height_m, end.noise_figure_db, end.handheld) == (
        0.0,
        5.0,
        1.5,
        7.0,
        True,
    )


def test_a_measurement_holds_for_its_band_only() -> None:
    set_up = SetUp.read(
        {
            "bands": ["2 m", "70 cm"],
            "noise": {"s_reading": "S4", "measured_on": "2 m", "category": "city"},
            "surroundings": "suburb",
        }
    )
    on_2m, on_70cm = (equip_set_up(set_up, "A", f, "ssb") for f in (144.3, 432.2))
    assert on_2m.noise.density_dbm_hz == pytest.approx(-123.0 - 33.80, abs=0.01)
    assert on_2m.noise.sigma_db < 6.0
    assert on_70cm.noise.density_dbm_hz is None
    assert on_70cm.noise.category == "city"


def test_a_measured_floor_makes_the_noise_figure_no_matter() -> None:
    set_up = SetUp.read({"bands": ["2 m"], "noise": {"floor_dbm": -110, "floor_bandwidth_khz": 12}})
    assert "noise figure" not in {a.what for a in equip_set_up(set_up, "A", 145.0, "fm").assumed}


def test_shared_radio_site_says_that_its_default_is_probably_wrong() -> None:
    unsure = equip_set_up(
        SetUp.read({"bands": ["2 m"], "noise": {"category": "shared radio site"}}), "A", 145, "fm"
    )
    assert any("probably wrong" in note for note in unsure.notes)
    assert unsure.noise.desensitization_db == 0.0
    assert "desensitization" in {a.what for a in unsure.assumed}
    stated = SetUp.read(
        {"bands": ["2 m"], "noise": {"category": "shared radio site", "desensitization_db": 12}}
    )
    sure = equip_set_up(stated, "A", 145, "fm")
    assert not any("probably wrong" in note for note in sure.notes)
    assert sure.noise.desensitization_db == 12.0


def test_sensitivity_becomes_a_noise_figure() -> None:
    receiver = {"sensitivity_uv": 0.18, "channel_khz": 25}
    end = equip_set_up(SetUp.read({"bands": ["2 m"], "receiver": receiver}), "A", 145.0, "fm")
    assert end.noise_figure_db == pytest.approx(5.3, abs=0.2)
    impossible = SetUp.read({"bands": ["2 m"], "receiver": receiver | {"sensitivity_uv": 0.05}})
    with pytest.raises(StationError, match=r"sensitivity_uv = 0\.05 .*accepted 1 to 15 dB"):
        equip_set_up(impossible, "A", 145.0, "fm")


def test_extrapolated_cable_is_noted() -> None:
    feedline = {"cable": "RG-213", "length_m": 10, "connectors": 2}
    end = equip_set_up(SetUp.read({"bands": ["23 cm"], "feedline": feedline}), "Stone Row", 1296.2, "ssb")
    assert "Stone Row: loss of RG-213 is extrapolated from 50 to 450 MHz" in end.notes


def test_unstated_surroundings_may_be_chosen() -> None:
    station = Station.read({"name": "Gull Tor", "place": "invented"})
    end = equip(station, 145.0, "fm", unstated_surroundings="open")
    assert not isinstance(end, NoFit)
    assert (end.surroundings, end.noise.category) == ("open", "rural")


def test_outside_30_mhz_to_3_ghz() -> None:
    with pytest.raises(OutOfRangeError, match=r"frequency 3500 MHz: accepted 30 to 3000 MHz"):
        equip_set_up(None, "A", 3500.0, "fm")


def test_unknown_mode_suggests() -> None:
    with pytest.raises(StationError, match=r"unknown mode 'mors'; did you mean morse"):
        equip_set_up(None, "A", 145.0, "mors")


def test_a_link_of_assumptions_needs_neither_pydantic_nor_scipy() -> None:
    code = (
        "import sys\n"
        "from pathprofile.link import PathFacts, equip_set_up, evaluate\n"
        "ends = [equip_set_up(None, name, 145.0, 'fm') for name in 'ab']\n"
        "evaluate(*ends, PathFacts(145.0, 150.0))\n"
        "print(sorted({'pydantic', 'scipy', 'numba'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
