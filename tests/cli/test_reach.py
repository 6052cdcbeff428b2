"""Text of ``reach``: the contact first, 80 columns, warnings apart, and no error for a path in the way."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pathprofile.station.catalogue import ANTENNAS, MODES, NOISE_CATEGORIES

if TYPE_CHECKING:
    from collections.abc import Callable

GULL_TOR = "47.74833,-21.00083"
HIGH_HALLOW, KESTREL_PIKE = "47.50250,-21.49917", "47.61167,-21.38250"
MARSH_END = "46.29750,-20.93750"
VERDICT = re.compile(r"^(SOLID|WORKABLE|MARGINAL|UNLIKELY) on [0-9.]+ c?m .+, .*\d+ in \d+")
LONGEST_NAME = (
    "The-one-beyond-the-marsh-and-the-dunes-where-nobody-but-gulls-ever-listens-at-al"  # 80 letters
)
BOOK = f"""
[[stations]]
name = "{LONGEST_NAME}"
place = "{MARSH_END}"

[[stations]]
name = "Lamp beacon"
place = "{MARSH_END}"
receive_only = true

[[stations.set_ups]]
bands = ["2 m"]
modes = ["morse"]
antenna = {{ kind = "dipole" }}
height_m = 8
power_w = 8
"""


@pytest.fixture
def book(alone: Path) -> str:
    (alone / "island.toml").write_text(BOOK, encoding="utf-8")
    return "island.toml"


def narrow(text: str) -> list[str]:
    """Lines of an answer, none of them wider than 80 columns."""
    lines = text.splitlines()
    assert lines
    for line in lines:
        assert len(line) <= 80, line
        assert line == line.rstrip()
    return lines


def test_first_line_is_the_verdict_with_odds(reach: Callable) -> None:
    ran = reach()
    lines = narrow(ran.answer())
    assert VERDICT.match(lines[0])
    assert "2 m SSB" in lines[0]


def test_an_obstructed_long_path_does_not_rule_out_a_contact(reach: Callable) -> None:
    ran = reach()
    assert ran.code == 0
    told = " ".join(ran.out.split())
    assert "No line of sight, usual at this distance; that alone does not rule out a contact" in told


def test_an_obstructed_short_path_says_what_is_in_the_way(reach: Callable) -> None:
    told = " ".join(reach(a="47.62583,-21.45833", b="47.46917,-21.30000").answer().split())
    assert "No line of sight" in told
    assert re.search(r"Counts most: \d+ m ridge at \d+ km, \d+ m above line|stands in the line", told)


def test_distance_and_azimuth_are_those_of_the_geodesic(reach: Callable) -> None:
    """Against geographiclib 2.0, which holds Karney's solution on WGS 84."""
    from geographiclib.geodesic import Geodesic

    line = Geodesic.WGS84.Inverse(47.74833, -21.00083, 46.29750, -20.93750)
    told = " ".join(reach().answer().split())
    assert f"{line['s12'] / 1000:.1f} km / {line['s12'] / 1609.344:.1f} mi" in told
    assert f"({line['azi1']:03.0f} true)" in told


def test_both_ways_are_told_side_by_side(reach: Callable) -> None:
    told = reach().answer()
    assert "you → them" in told
    assert "them → you" in told
    found = json.loads(reach("--json").answer())
    for link in found["links"]:
        assert f"{link['eirp_dbm']:+.1f} dBm" in told
        assert f"{link['margin_db']:+.1f} dB" in told


def test_what_is_assumed_is_said_and_what_is_stated_is_not(reach: Callable) -> None:
    assumed = " ".join(reach().answer().split())
    assert "Assumed: " in assumed
    stated = " ".join(
        reach(
            *("--from-height", "6m", "--to-height", "20ft", "--from-power", "10", "--to-power", "50"),
            *("--from-antenna", "log-periodic", "--to-antenna", "7dBd"),
            *("--from-noise", "quiet rural", "--to-noise", "S3"),
            *("--from-feedline", "RG-213 12m", "--to-feedline", "2.5dB"),
        )
        .answer()
        .split()
    )
    assert "25 W" in assumed
    assert "25 W" not in stated
    assert "Assumed: " not in stated


@pytest.mark.parametrize(
    ("typed", "metres"), [("6", 6.0), ("6m", 6.0), ("20ft", 6.096), ("6,5 m", 6.5), ("20 feet", 6.096)]
)
def test_heights(reach: Callable, typed: str, metres: float) -> None:
    """A foot is 0.3048 m by definition."""
    found = json.loads(reach("--json", "--from-height", typed, "--to-height", typed).answer())
    assert found["inputs"]["from"]["antenna_agl_m"] == pytest.approx(metres, abs=1e-9)
    assert found["inputs"]["to"]["antenna_agl_m"] == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "lowest_mhz", "highest_mhz"),
    [
        ("146.52", 146.52, 146.52),
        ("146.52MHz", 146.52, 146.52),
        ("1.296GHz", 1296.0, 1296.0),
        ("30", 30.0, 30.0),
        ("3000", 3000.0, 3000.0),
        # the widest limits of the bands: ITU Radio Regulations, Article 5
        ("6m", 50.0, 54.0),
        ("2m", 144.0, 148.0),
        ("2 M", 144.0, 148.0),
        ("1.25m", 219.0, 225.0),
        ("70cm", 420.0, 450.0),
        ("23cm", 1240.0, 1300.0),
    ],
)
def test_frequencies(reach: Callable, typed: str, lowest_mhz: float, highest_mhz: float) -> None:
    found = json.loads(reach("--json", "--frequency", typed).answer())
    assert lowest_mhz <= found["inputs"]["frequency_mhz"] <= highest_mhz


def test_air(reach: Callable) -> None:
    """ΔN = 157 (1 - 1/k), so k = 4/3 is 39.25."""
    assert json.loads(reach("--json").answer())["inputs"]["delta_n"] == pytest.approx(39.25)
    assert json.loads(reach("--json", "--k", "1").answer())["inputs"]["delta_n"] == pytest.approx(0.0)
    seen = json.loads(reach("--json", "--delta-n", "78.5").answer())["sightline"]
    assert seen["k_factor"] == pytest.approx(2.0)


@pytest.mark.parametrize("mode", MODES)
def test_every_mode_fits(reach: Callable, mode: str) -> None:
    for band in ("6m", "70cm"):
        lines = narrow(reach("--mode", mode, "--frequency", band).answer())
        assert VERDICT.match(lines[0])


@given(
    mode=st.sampled_from(sorted(MODES)),
    frequency=st.sampled_from(["6m", "4m", "2m", "1.25m", "70cm", "33cm", "23cm", "13cm", "99.9"]),
    ends=st.permutations([GULL_TOR, MARSH_END, HIGH_HALLOW, KESTREL_PIKE, "HN97li", "47.3,-21.7"]),
    antenna=st.sampled_from([*ANTENNAS, "14.5dBi", "-3dBd"]),
    noise=st.sampled_from([*NOISE_CATEGORIES, "S9", "-120dBm/2.4kHz", "6dB rise"]),
    power=st.sampled_from(["0.001", "5", "1500", "10000"]),
    height=st.sampled_from(["0.5", "6m", "33.333m", "3000m"]),
)
@settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_whatever_is_asked_fits_80_columns(
    reach: Callable,
    mode: str,
    frequency: str,
    ends: list[str],
    antenna: str,
    noise: str,
    power: str,
    height: str,
) -> None:
    ran = reach(
        *("--mode", mode, "--frequency", frequency, "--from-antenna", antenna, "--to-noise", noise),
        *("--from-power", power, "--to-height", height, "--to-feedline", "RG-58 30m"),
        a=ends[0],
        b=ends[1],
    )
    if ran.code == 2:
        assert re.search(r"no .+ gain known for the .+; state gain_dbi", ran.refusal())
    else:
        assert len(narrow(ran.out)) <= 30


def test_the_longest_name_still_fits(reach: Callable, book: str) -> None:
    ran = reach("--book", book, b=LONGEST_NAME)
    narrow(ran.answer())
    assert "The-one-beyond" in ran.out


# --- one screen, and what must be on it


@pytest.mark.parametrize("words", [(), ("--mode", "fm"), ("--frequency", "70cm")])
def test_the_island_fits_a_screen(reach: Callable, words: tuple[str, ...]) -> None:
    """80 by 24."""
    stated = ("--from-antenna", "log-periodic", "--from-power", "10", "--from-height", "6m")
    assert len(narrow(reach(*stated, *words).answer())) <= 24


def test_the_demo_fits_a_screen(run: Callable) -> None:
    assert len(narrow(run("demo").answer())) <= 24


def test_odds_are_said_to_need_a_listener_where_a_line_is_free(run: Callable, dem: str) -> None:
    words = "Odds hold only if the other station is on the air and listening."
    for more in ((), ("--from-antenna", "dipole")):
        lines = narrow(run("reach", "Gull Tor", "Marsh End", "--book", f"{dem}/trip.toml", *more).answer())
        told = " ".join(" ".join(lines).split())
        assert told.count(words) == 1
        assert len(lines) <= 24


def kept_m(text: str) -> float:
    (metres,) = re.findall(r"[Kk]eep ([0-9.]+) m from the antenna;", text)
    return float(metres)


def test_safety_says_the_whole_height_and_thunder(reach: Callable) -> None:
    told = " ".join(reach().answer().split())
    assert "power lines twice the height of mast plus antenna away; thunder: stop." in told
    assert "This is no safety line." in told


@pytest.mark.parametrize("antenna", ["log-periodic", "handheld stub", "14dBi"])
def test_the_caution_in_the_picture_is_whole(
    reach: Callable, monkeypatch: pytest.MonkeyPatch, antenna: str
) -> None:
    from pathprofile.draw import words

    shorten, drawn = words.shortened, []

    def note(*given: Any) -> str:
        drawn.append(shorten(*given))
        return drawn[-1]

    monkeypatch.setattr(words, "shortened", note)
    reach("--mode", "fm", "--from-antenna", antenna, "--chart", "path.svg").answer()
    (caution,) = [text for text in drawn if "power lines" in text]
    assert caution.endswith("power lines twice the height of mast + antenna away. No safety line.")
    assert caution.startswith("Hold it off the head; " if "stub" in antenna else "Keep ")


def test_the_distance_to_keep_covers_what_the_screen_offers(reach: Callable) -> None:
    """15 s digital sends all the time, a duty of 1: FCC OET Bulletin 65 section 2, 2 W/m² at 2 m."""
    for words in ((), ("--from-antenna", "dipole"), ("--from-power", "5")):
        told = reach(*words).answer()
        found = json.loads(reach("--json", *words).answer())
        eirp_w = 10.0 ** (found["links"][0]["eirp_dbm"] / 10.0) / 1000.0
        assert "15 s digital" in told
        least_m = (2.56 * eirp_w / (4.0 * 3.14159265 * 2.0)) ** 0.5
        (beam_dbi,) = re.findall(r"beam \(([0-9.]+) dBi\)", told)[:1] or ["0"]
        gain_dbi = next(
            term["value_db"] for term in found["links"][0]["terms"] if term["name"] == "sender's antenna"
        )
        beam_m = least_m * 0.2**0.5 * 10 ** ((float(beam_dbi) - gain_dbi) / 20)  # in SSB, a duty of 0.2
        assert (
            max(least_m, beam_m) <= kept_m(told) <= max(least_m, beam_m) * 2.3 + 0.1
        )  # 25 W to 50 W and more
        assert kept_m(told) > found["exposure"][0]["in_this_mode"]["keep_m"]


def test_a_handheld_beside_a_big_set_up_keeps_the_distance_of_what_is_offered(
    run: Callable, dem: str, tmp_path: Path
) -> None:
    """400 W and 13.5 dBi in SSB, a duty of 0.2: FCC OET Bulletin 65 section 2, 2 W/m² at 2 m."""
    book = tmp_path / "two.toml"
    book.write_text(
        '[trip]\nbands = ["2 m"]\n[my_set_ups.hand]\nbands = ["2 m"]\nmodes = ["fm"]\npower_w = 5\n'
        'antenna = { kind = "handheld stub" }\n[my_set_ups.big]\nbands = ["2 m"]\nmodes = ["ssb"]\n'
        'power_w = 400\nfeedline = { loss_db = 0.0 }\nantenna = { kind = "11-element beam" }\n'
        '[[sites]]\nname = "Here"\nplace = "47.74833 -21.00083"\n'
    )
    words = ("reach", "Here", MARSH_END, "--mode", "fm", "--book", str(book), "--dem", dem)
    told = " ".join(run(*words).answer().split())
    assert "hold it off the head" in told
    least_m = (2.56 * 400 * 10**1.35 * 0.2 / (4.0 * 3.14159265 * 2.0)) ** 0.5
    assert kept_m(told) >= least_m
    assert json.loads(run(*words, "--json").answer())["exposure"][0]["keep_m"] > least_m - 1e-6


def test_screen_picture_and_json_keep_the_same_distance(reach: Callable, tmp_path: Path) -> None:
    words = ("--from-power", "5")  # marginal: more power is offered
    shown_m = kept_m(reach(*words, "--chart", str(tmp_path / "path.svg")).answer())
    kept = json.loads(reach("--json", *words).answer())["exposure"][0]
    assert shown_m - 0.1 < kept["keep_m"] <= shown_m
    assert kept["words"].startswith(f"Keep {shown_m:.1f} m from the antenna")
    assert f"Keep {shown_m:.1f} m off" in (tmp_path / "path.svg").read_text(encoding="utf-8")


def test_a_handheld_has_words_of_its_own_and_no_mast(reach: Callable) -> None:
    ran = reach("--mode", "fm", "--from-antenna", "handheld stub")
    told = " ".join(ran.answer().split())
    assert "Safety: hold it off the head: follow the radio's manual; power lines twice" in told
    assert "m from the antenna" not in told
    assert not re.search(r"^  mast ", ran.out, re.MULTILINE)


def test_places_offered_say_what_was_not_checked(run: Callable, reach: Callable, dem: str) -> None:
    """One line under the list where a place is among it, else none."""
    words = "terrain only; not checked for access, cliffs, snow, power lines"
    asked = ("--book", f"{dem}/trip.toml", "--mode", "fm", "--from-antenna", "handheld stub")
    flank = run("reach", "Gull Tor", "Norwater", *asked).answer()
    assert re.search(r"^  \d+ m [NESW]+ ", flank, re.MULTILINE)
    assert flank.count(words) == 1
    top = reach().answer()
    assert not re.search(r"^  \d+ m [NESW]+ ", top, re.MULTILINE)
    assert words not in top


def test_the_mast_limit_of_the_question_binds(reach: Callable) -> None:
    low = ("--from-height", "2m", "--to-height", "2m", "--mode", "fm", "--mast-limit", "3m", "--json")
    found = json.loads(reach(*low, a="46.3000,-20.9000", b="46.3200,-20.5000").answer())
    tops = [
        float(number)
        for change in found["changes"]
        for number in re.findall(r"^mast .* → ([0-9.]+) m", change["what"])
    ]
    assert all(top <= 3.0 for top in tops)


CROSSED = f"""
[[stations]]
name = "Beam House"
place = "{GULL_TOR}"

[[stations.set_ups]]
bands = ["2 m"]
antenna = {{ kind = "5-element beam" }}
polarization = "horizontal"
power_w = 5

[[stations]]
name = "Whip House"
place = "{MARSH_END}"

[[stations.set_ups]]
bands = ["2 m"]
antenna = {{ kind = "collinear" }}
"""


def test_crossed_antennas_are_told_and_turned(reach: Callable, alone: Path) -> None:
    """10 to 20 dB (common practice); what cannot be turned is not."""
    (alone / "crossed.toml").write_text(CROSSED, encoding="utf-8")
    ran = reach("--book", "crossed.toml", "--mode", "ssb", a="Beam House", b="Whip House")
    narrow(ran.answer())
    told = " ".join(ran.out.split())
    assert "HORIZONTAL, theirs vertical: your antennas are crossed, 10 to 20 dB lost." in told
    assert re.search(r"^  turn to vertical ", ran.out, re.MULTILINE)
    back = reach("--book", "crossed.toml", "--mode", "ssb", a="Whip House", b="Beam House")
    assert "VERTICAL, theirs horizontal: your antennas are crossed" in " ".join(back.answer().split())
    assert "turn to" not in back.out
    assert "crossed" not in reach().answer()


def test_fm_tells_the_voltage_beside_the_word(reach: Callable) -> None:
    """Over 50 Ω, -107 dBm is 1 µV (sqrt(50 * 10^-13.7) V = 1.0 µV)."""
    words = ("--mode", "fm", "--from-power", "50", "--from-antenna", "11-element beam")
    told = reach(*words).answer()
    found = json.loads(reach("--json", *words).answer())
    voltages = [float(number) for number in re.findall(r"(?:quiet|noisy|readable), ([0-9.]+) µV", told)]
    assert voltages
    levels = [link["level_dbm"] for link in found["links"]]
    for voltage in voltages:
        assert any(voltage == pytest.approx(10 ** ((level + 107.0) / 20), rel=0.06) for level in levels)


def test_a_beacon_is_heard_and_hears_nobody(reach: Callable, book: str) -> None:
    ran = reach("--book", book, "--mode", "morse", b="Lamp beacon")
    narrow(ran.answer())
    assert "them → you" in ran.out
    assert "you → them" not in ran.out
    found = json.loads(reach("--json", "--book", book, "--mode", "morse", b="Lamp beacon").answer())
    assert [link["from"] for link in found["links"]] == ["Lamp beacon"]


TWO_SET_UPS = f"""
[[stations]]
name = "Lamp House"
place = "{GULL_TOR}"

[[stations.set_ups]]
bands = ["2 m"]
modes = ["ssb", "morse"]
antenna = {{ kind = "5-element beam" }}
polarization = "horizontal"
power_w = 10

[[stations.set_ups]]
bands = ["2 m", "70 cm"]
modes = ["fm"]
antenna = {{ kind = "j-pole" }}
power_w = 20
"""


def test_what_is_said_of_an_end_is_said_of_the_set_up_in_use(reach: Callable, alone: Path) -> None:
    """A stub cannot be horizontal, as the SSB set-up is; the FM set-up it replaces is not."""
    (alone / "two.toml").write_text(TWO_SET_UPS, encoding="utf-8")
    words = ("--book", "two.toml", "--from-antenna", "handheld stub", "--from-power", "3")
    found = json.loads(reach(*words, "--mode", "fm", "--json", a="Lamp House").answer())
    out_db = {term["name"]: term["value_db"] for term in found["links"][0]["terms"]}
    assert out_db["sender's antenna"] == -6.0  # a stub on 2 m (common practice)
    assert out_db["power"] == pytest.approx(34.771, abs=1e-3)  # 10 log 3000
    ssb = json.loads(reach("--book", "two.toml", "--json", a="Lamp House").answer())
    for mode in ("ssb", "morse"):
        (row,) = [row for row in found["modes"] if (row["band"], row["mode"]) == ("2 m", mode)]
        (alone_row,) = [row for row in ssb["modes"] if (row["band"], row["mode"]) == ("2 m", mode)]
        assert row["polarization"] == alone_row["polarization"] == "horizontal"
    line = reach(*words, a="Lamp House").refusal()  # SSB is the customary mode here
    assert "'horizontal'" in line


def test_a_book_in_the_folder_is_used_and_named(reach: Callable, alone: Path) -> None:
    (alone / "trip.toml").write_text(BOOK, encoding="utf-8")
    ran = reach("--mode", "morse", b="Lamp beacon")
    assert "Lamp beacon" in ran.answer()
    assert "trip.toml" in ran.err
    assert "trip.toml" not in ran.out


def test_a_name_that_no_book_holds_is_refused_with_the_nearest(reach: Callable, book: str) -> None:
    line = reach("--book", book, "--mode", "morse", b="Lamp becon").refusal()
    assert "'Lamp becon'" in line
    assert "Lamp beacon" in line


def test_a_key_that_no_book_knows_is_refused_with_its_line(reach: Callable, alone: Path) -> None:
    (alone / "wrong.toml").write_text(BOOK.replace("power_w", "powr_w"), encoding="utf-8")
    line = reach("--book", "wrong.toml", b="Lamp beacon").refusal()
    number = BOOK.splitlines().index("power_w = 8") + 1
    assert "powr_w" in line
    assert "power_w" in line
    assert f"line {number}" in line


def test_a_band_without_a_set_up_is_refused_with_the_reason(reach: Callable, book: str) -> None:
    line = reach("--book", book, "--frequency", "70cm", "--mode", "morse", b="Lamp beacon").refusal()
    assert "70 cm" in line
    assert "Lamp beacon" in line


def test_sea_may_begin_at_the_first_antenna_and_clutter_at_the_mast(reach: Callable) -> None:
    dry = json.loads(reach("--json").answer())["loss"]["loss_db"]
    wet = json.loads(reach("--json", "--sea", "0km-20km").answer())["loss"]["loss_db"]
    assert wet != dry
    near = json.loads(reach("--json", "--clutter", "15m", "--clear", "0m").answer())["loss"]["loss_db"]
    far = json.loads(reach("--json", "--clutter", "15m", "--clear", "500m").answer())["loss"]["loss_db"]
    assert near > far > dry


# --- warnings


def test_warnings_go_to_standard_error_alone(reach: Callable) -> None:
    """The World Magnetic Model of 2025 holds to 2030."""
    late = ("--date", "2041-06-14")
    loud, quiet = reach(*late), reach(*late, "--quiet")
    assert loud.answer() == quiet.answer()
    assert loud.err.startswith("warning: ")
    assert "2041-06-14" in loud.err
    assert "warning" not in loud.out
    assert quiet.err == ""


def test_warnings_are_in_the_json_too(reach: Callable) -> None:
    found = json.loads(reach("--json", "--quiet", "--date", "2041-06-14").answer())
    assert any("2041-06-14" in text for text in found["warnings"])


def test_sigmas_of_ones_own_are_used_and_told(reach: Callable) -> None:
    """The less the spread, the surer an answer that is above even odds."""
    usual, sure = reach(), reach("--path-sigma", "3", "--noise-sigma", "1.5")
    assert "Sigmas" not in usual.answer()
    assert "Sigmas: path 3, noise 1.5 dB." in " ".join(sure.answer().split())
    chances = [
        json.loads(reach("--json", *words).answer())["pair"]["chance"]
        for words in ((), ("--path-sigma", "3"), ("--path-sigma", "3", "--noise-sigma", "1.5"))
    ]
    assert 0.5 < chances[0] < chances[1] < chances[2]
    assert "accepted 0 to 40 dB" in reach("--path-sigma", "41").refusal()
    assert "points" in reach("--noise-sigma", "3", b="HN97li").refusal()


def test_a_hole_on_the_path_is_told_or_refused(reach: Callable) -> None:
    """From Gull Tor to Pennowick the sample has a hole (its own note says so)."""
    pennowick = "47.30833,-21.75000"
    assert json.loads(reach("--json", b=pennowick).answer())["profile"]["void_points"] > 0
    assert "hole" in reach("--strict-holes", b=pennowick).refusal()


def test_ground_height_that_differs_from_the_map_is_reported(reach: Callable) -> None:
    ran = reach("--from-ground", "900")
    assert ran.code == 0
    assert "900" in ran.err


def test_coarse_digits_are_told(reach: Callable) -> None:
    """Two decimals leave ±556 m open; there is higher ground than 47.75 -21.00 within that."""
    ran = reach(a="47.75,-21.00")
    assert ran.code == 0
    assert "did you mean that?" in ran.err


def test_missing_tiles_may_be_sea(reach: Callable) -> None:
    beyond = "46.5,-19.5"
    assert "N46W020" in reach(b=beyond).refusal()
    assert reach("--sea-where-missing", b=beyond).code == 0


# --- where the tiles come from


def test_tiles_from_the_environment(run: Callable, dem: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATHPROFILE_DEM", dem)
    assert run("reach", GULL_TOR, MARSH_END).code == 0


def test_several_folders_in_the_environment(
    run: Callable, dem: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os
    import shutil

    south = tmp_path / "south"
    south.mkdir()
    shutil.copy(Path(dem) / "N46W021.hgt.zip", south)
    north = str(Path(dem) / "N47W021.tif")
    monkeypatch.setenv("PATHPROFILE_DEM", os.pathsep.join([north, str(south)]))
    assert run("reach", GULL_TOR, MARSH_END, "--sea-where-missing").code == 0


def test_tiles_from_the_users_data_folder(
    run: Callable, dem: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import platformdirs

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    monkeypatch.setenv("HOME", str(tmp_path))
    nothing = run("reach", GULL_TOR, MARSH_END).refusal()
    folder = Path(platformdirs.user_data_dir("pathprofile", appauthor=False)) / "dem"
    assert "--dem" in nothing
    assert "PATHPROFILE_DEM" in nothing
    assert str(folder) in nothing
    assert tmp_path in folder.parents
    folder.parent.mkdir(parents=True)
    folder.symlink_to(dem)
    assert run("reach", GULL_TOR, MARSH_END).code == 0


def test_dem_may_be_repeated_and_may_be_a_file(run: Callable, dem: str) -> None:
    files = [Path(dem) / "N46W021.hgt.zip", Path(dem) / "N47W021.tif", Path(dem) / "N47W022.tif"]
    words = [word for file in files for word in ("--dem", str(file))]
    some = run("reach", GULL_TOR, MARSH_END, "--json", "--date", "2026-06-14", *words)
    whole = run("reach", GULL_TOR, MARSH_END, "--json", "--date", "2026-06-14", "--dem", dem)
    assert json.loads(some.answer()) == json.loads(whole.answer())


def test_dem_comes_before_the_environment(run: Callable, dem: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATHPROFILE_DEM", "nowhere")
    assert run("reach", GULL_TOR, MARSH_END, "--dem", dem).code == 0
    assert "'nowhere'" in run("reach", GULL_TOR, MARSH_END).refusal()


# --- as wide as the terminal


@pytest.mark.parametrize("columns", [40, 59, 77, 78, 200])
@pytest.mark.parametrize("words", [(), ("--mode", "fm", "--from-power", "5")])
def test_no_line_is_wider_than_the_terminal(
    reach: Callable, monkeypatch: pytest.MonkeyPatch, columns: int, words: tuple[str, ...]
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    told = reach(*words).answer()
    assert max(map(len, told.splitlines())) <= min(columns, 79)
    beside = re.search(r"you → them +them → you", told)
    assert bool(beside) is (columns >= 78)  # two columns of 24 beside a name of 29
    if not beside:
        assert told.index("you → them") < told.index("them → you\n radiated")
    assert len(re.findall(r"^ above comfortable", told, re.MULTILINE)) == (1 if beside else 2)


def test_a_narrow_terminal_is_told_as_much_as_a_wide_one(
    reach: Callable, monkeypatch: pytest.MonkeyPatch
) -> None:
    wide = reach().answer()
    monkeypatch.setenv("COLUMNS", "40")
    narrow_text = reach().answer()
    for figure in re.findall(r"[-+]\d+\.\d+ dBm?|-\d+\.\d\|-\d+\.\d|S\d|\d+ in \d+", wide):
        assert figure in narrow_text


# --- what stands at the ends, what counts most, and what masts do


def test_the_ground_at_both_ends_is_told(reach: Callable) -> None:
    told = " ".join(reach().answer().split())
    ends = json.loads(reach("--json").answer())["inputs"]
    assert f"mi, ground {ends['from']['ground_m']:.0f} m here, {ends['to']['ground_m']:.0f} m there." in told


def test_a_solid_contact_is_offered_no_masts_for_a_line_of_sight(reach: Callable) -> None:
    """Over a low sill 25 m masts would see each other; strong stations do not need to."""
    ends = {"a": "47.62583,-21.45833", "b": "47.46917,-21.30000"}
    weak = ("--mode", "fm", "--from-power", "0.001", "--to-power", "0.001")
    for words, offered in (((), False), (weak, True)):
        told = " ".join(reach("--mast-limit", "3000m", *words, **ends).answer().split())
        assert told.startswith("SOLID") is not offered
        assert ("; for a bare line of sight a mast of " in told) is offered


def test_how_high_a_mast_is_answered_even_where_none_helps(reach: Callable) -> None:
    """A contact that is not solid, and a longer cable on a higher mast that gains nothing."""
    told = reach("--from-antenna", "log-periodic", "--from-power", "10", "--from-height", "6m").answer()
    assert re.search(r"^  mast 6 → 10 m: no use +[-+]\d dB ", told, re.MULTILINE)
    found = json.loads(
        reach(
            *("--from-antenna", "log-periodic", "--from-power", "10", "--from-height", "6m", "--json")
        ).answer()
    )
    assert not any(change["what"].startswith("mast") for change in found["changes"])
    (mast,) = found["changes_of_no_use"]
    assert mast["what"] == "mast 6 → 10 m"
    assert mast["gain_db"] < 0.5


def test_the_readings_say_whose_they_are(reach: Callable) -> None:
    assert re.search(r"^ above readable; S-meter +\S+ dB; S\d", reach().answer(), re.MULTILINE)
    fm = reach("--mode", "fm").answer()
    assert re.search(
        r"^ above readable; heard as +\S+ dB; (not readable|noisy|readable|quiet)", fm, re.MULTILINE
    )


# --- what to do about a refusal


def test_exchanged_coordinates_are_asked_about_before_anything_else(reach: Callable) -> None:
    """From Gull Tor to Marsh End it is 161 km (`test_distance_and_azimuth_are_those_of_the_geodesic`)."""
    line = reach(a="-21.00083,47.74833").refusal()
    assert line.startswith(
        "FROM: is it latitude and longitude exchanged? 47.7483 -21.0008 lies on the tiles, 161 km"
    )
    assert line.index("exchanged?") < line.index("put tile")
    assert "(--sea-where-missing)" in line


LIMITED = f"""
[[stations]]
name = "Low mast"
place = "{GULL_TOR}"

[[stations.set_ups]]
bands = ["2 m"]
height_m = 4
max_height_m = 8
"""


def test_a_limit_of_the_book_is_named_and_lifted_for_one_question(reach: Callable, alone: Path) -> None:
    (alone / "low.toml").write_text(LIMITED, encoding="utf-8")
    words = ("--book", "low.toml", "--from-height", "30")
    line = reach(*words, a="Low mast").refusal()
    assert "max_height_m = 8" in line
    assert line.endswith("or lift it for this question with --mast-limit 30m")
    assert "max_height_m = 8" in reach(*words, "--mast-limit", "20m", a="Low mast").refusal()
    found = json.loads(reach(*words, "--mast-limit", "30m", "--json", a="Low mast").answer())
    assert found["inputs"]["from"]["antenna_agl_m"] == 30.0
    assert not any(change["what"].startswith("mast") for change in found["changes"])  # it is at its limit


# --- both odds where the methods part


def test_both_odds_stand_in_the_table_where_the_methods_part(monkeypatch: pytest.MonkeyPatch) -> None:
    from pathprofile.changes import Change
    from pathprofile.cli.answer import _change_lines
    from pathprofile.link.words import verdict

    part = Change("Morse instead of SSB", 16.0, 0.97, verdict(0.97, 0.9), "both ways", "", None, 0.02, True)
    agree = replace(part, methods_part=False)
    assert re.search(r"\+16 dB +over 19 in 20 +below 1 in 20$", _change_lines([part])[1])
    assert _change_lines([agree])[1].endswith("+16 dB   over 19 in 20")
    assert all(len(line) <= 79 for line in _change_lines([part]))
    monkeypatch.setenv("COLUMNS", "40")
    assert " ".join(" ".join(_change_lines([part])).split()).endswith(
        "+16 dB, over 19 in 20 or below 1 in 20"
    )


def test_a_ridge_at_the_feet_is_told_in_metres(run: Callable, dem: str) -> None:
    said = run("reach", "Gull Tor", "Norwater", "--book", f"{dem}/trip.toml", "--dem", dem).answer()
    row = re.search(r"This hangs on one ridge at (\d+) (k?m);", " ".join(said.split()))
    assert row is not None, said
    assert row[2] == "m"
    assert 100 < int(row[1]) < 1000
