"""Every bad input ends in one line that names what was given, exit code 2, and nothing written."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

if TYPE_CHECKING:
    from collections.abc import Callable

GULL_TOR = "47.74833,-21.00083"
MARSH_END = "46.29750,-20.93750"


# --- options of ``reach``: (options, what the line must hold)
REFUSED: list[tuple[list[str], list[str]]] = [
    # antennas and their heights
    (["--from-height", "nan"], ["'nan'", "6, 6m or 20ft"]),
    (["--to-height", "NaN"], ["'NaN'", "6, 6m or 20ft"]),
    (["--from-height", "-3"], ["'-3'", "out of range"]),
    (["--from-height", "-3ft"], ["'-3ft'", "out of range"]),
    (["--from-height", "inf"], ["'inf'"]),
    (["--from-height", "0"], ["height_m = 0.0", "0.5 to 3000 m", GULL_TOR]),
    (["--to-height", "5000"], ["height_m = 5000.0", "0.5 to 3000 m", MARSH_END]),
    (["--from-height", "6 furlongs"], ["'6 furlongs'", "6, 6m or 20ft"]),
    (["--from-height", ""], ["''"]),
    (["--from-ground", "-600"], ["'-600'", "-500 to 10000 m"]),
    (["--mast-limit", "high"], ["'high'"]),
    # frequency and band
    (["--frequency", "29.999"], ["'29.999'", "30 MHz to 3 GHz"]),
    (["--frequency", "3000.001"], ["'3000.001'", "30 MHz to 3 GHz"]),
    (["--frequency", "3.1GHz"], ["'3.1GHz'", "30 MHz to 3 GHz"]),
    (["--frequency", "nan"], ["'nan'"]),
    (["--frequency", "-144"], ["'-144'"]),
    (["--frequency", "2n"], ["'2n'", "2m", "70cm"]),
    (["--frequency", "7Ocm"], ["'7Ocm'", "70cm"]),
    # names with a near miss
    (["--mode", "sbs"], ["'sbs'", "did you mean ssb"]),
    (["--mode", "mores"], ["'mores'", "morse"]),
    (["--from-antenna", "5-elemnt beam"], ["'5-elemnt beam'", "5-element beam"]),
    (["--to-antenna", "yogi"], ["'yogi'", "known: ", "log-periodic"]),
    (["--from-feedline", "RG-231 12m"], ["'RG-231'", "RG-213"]),
    (["--from-noise", "residental"], ["'residental'", "residential"]),
    (["--polarization", "diagonal"], ["'diagonal'", "'vertical', 'horizontal'"]),
    (["--fequency", "2m"], ["--fequency", "--frequency"]),
    (["--zzz"], ["--zzz"]),
    # what no station has: field, value and limits
    (["--from-power", "0"], ["power_w = 0.0", "0.001 to 10000 W", GULL_TOR]),
    (["--to-power", "-5"], ["power_w = -5.0", "0.001 to 10000 W", MARSH_END]),
    (["--from-power", "nan"], ["power_w = nan"]),
    (["--from-power", "1e9"], ["power_w = 1000000000.0"]),
    (["--from-power", "ten"], ["--from-power", "number"]),
    (["--from-antenna", "200dBi"], ["gain_dbi = 200.0", "-30 to 40"]),
    (["--from-antenna", "-200 dBd"], ["gain_dbd = -200.0", "-30 to 40"]),
    (["--from-feedline", "RG-213 -5m"], ["length_m = -5.0", "0 to 500 m"]),
    (["--from-feedline", "RG-213 9000m"], ["length_m = 9000.0", "0 to 500 m"]),
    (["--from-feedline", "-3dB"], ["loss_db = -3.0", "0 to 60 dB"]),
    (["--from-feedline", "RG-213"], ["'RG-213'", "'RG-213 12m'"]),
    (["--to-noise", "S12"], ["'S12'", "S0 to S9"]),
    (["--to-noise", "-500dBm/2.4kHz"], ["floor_dbm = -500.0", "-174 to -20 dBm"]),
    # the air
    (["--k", "1.3", "--delta-n", "40"], ["--k and --delta-n", "give one"]),
    (["--k", "1.3", "--refractivity-maps", "."], ["--k and --refractivity-maps", "give one"]),
    (["--n0", "320", "--refractivity-maps", "."], ["--refractivity-maps and --n0", "give one"]),
    (["--k", "0"], ["0.0", "0.45 to 150"]),
    (["--k", "nan"], ["nan", "0.45 to 150"]),
    (["--delta-n", "500"], ["500.0", "-200 to 156"]),
    (["--n0", "5"], ["5.0", "250 to 400"]),
    (["--refractivity-maps", "nowhere"], ["nowhere", "DN50.TXT"]),
    # the day
    (["--date", "2026-02-30"], ["'2026-02-30'", "2026-06-14"]),
    (["--date", "tomorrow"], ["'tomorrow'", "2026-06-14"]),
    (["--date", "14/6/2026"], ["'14/6/2026'", "2026-06-14"]),
    # what stands or floats on the path
    (["--obstacle", "12km"], ["'12km'", "12.4km:18m"]),
    (["--obstacle", "12:18"], ["'12'", "no unit"]),
    (["--obstacle", "900km:18m"], ["900 km", "161"]),
    (["--obstacle", "12km:-3m"], ["'-3m'"]),
    (["--obstacle", ":"], ["''"]),
    (["--sea", "20km"], ["'20km'", "20km-65km"]),
    (["--sea", "20-65"], ["'20'", "no unit"]),
    (["--sea", "65km-20km"], ["65 to 20 km", "start before end"]),
    (["--sea", "20km-900km"], ["20 to 900 km", "161"]),
    (["--clutter", "-3"], ["'-3'"]),
    (["--clutter", "1000m"], ["1000", "0 to 300 m"]),
    (["--clear", "10"], ["'10'", "no unit"]),
    (["--step", "0m"], ["'0m'"]),
    (["--step", "5"], ["'5'", "no unit"]),
    # where the answer goes
    (["--chart", "no/such/folder/path.png"], ["no/such/folder", "folder"]),
    (["--chart", "path.gif"], ["'path.gif'", ".png, .svg, .pdf"]),
    (["--chart", "path"], ["'path'", ".png, .svg, .pdf"]),
    (["--json=yes"], ["--json"]),
    (["--book", "nofile.toml"], ["'nofile.toml'"]),
    (["--dem"], ["--dem", "argument"]),
]


@pytest.mark.parametrize(("options", "told"), REFUSED, ids=[" ".join(case[0]) for case in REFUSED])
def test_refused_option(reach: Callable, options: list[str], told: list[str]) -> None:
    line = reach(*options).refusal()
    for part in told:
        assert part in line


WRONG_COMMANDS: list[tuple[list[str], list[str]]] = [
    (["raech"], ["'raech'", "reach"]),
    (["--bogus"], ["--bogus"]),
    (["reach"], ["FROM", "pathprofile reach --help"]),
    (["reach", GULL_TOR], ["TO", "pathprofile reach --help"]),
    (["reach", GULL_TOR, MARSH_END, "47,-21"], ["extra argument", "47,-21"]),
    (["locate"], ["PLACE"]),
    (["locate", "nonsense"], ["'nonsense'", "locator (HN96ie)", "UTM", "MGRS"]),
    (["locate", "91 0"], ["'91 0'"]),
    (["locate", "47,-21", "47,-21"], ["same place"]),
    (["locate", "47,-21", "-47,159"], ["antipodal"]),
    (["locate", "47,-21", "46,-21", "--date", "soon"], ["'soon'", "2026-06-14"]),
    (["tiles"], ["no places"]),
    (["tiles", "nonsense"], ["'nonsense'"]),
    (["demo", "--chart", "path.bmp"], ["'path.bmp'", ".png, .svg, .pdf"]),
    (["demo", "--chart", "no/path.png"], ["'no/path.png'"]),
    (["demo", "extra"], ["extra"]),
    (["defaults", "extra"], ["extra"]),
]


@pytest.mark.parametrize(
    ("words", "told"), WRONG_COMMANDS, ids=[" ".join(case[0]) for case in WRONG_COMMANDS]
)
def test_wrong_command_line(run: Callable, words: list[str], told: list[str]) -> None:
    line = run(*words).refusal()
    for part in told:
        assert part in line


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ((GULL_TOR, GULL_TOR), ["same place"]),
        ((GULL_TOR, "-47.74833,158.99917"), ["antipodal"]),
        ((GULL_TOR, "47.5,-18.5"), ["TO", "outside", "N47W019"]),
        (("48.5,-21.5", MARSH_END), ["FROM", "outside", "N48W022"]),
        ((GULL_TOR, "46.29750"), ["'46.29750'", "two coordinates"]),
        ((GULL_TOR, "95,-21"), ["'95,-21'"]),
        ((GULL_TOR, ""), ["''", "empty"]),
    ],
    ids=["equal", "antipodal", "TO outside", "FROM outside", "half a place", "no latitude", "empty"],
)
def test_impossible_ends(reach: Callable, ends: tuple[str, str], told: list[str]) -> None:
    line = reach(a=ends[0], b=ends[1]).refusal()
    for part in told:
        assert part in line


# --- elevation files that are no use


def text_named_hgt(folder: Path, dem: str) -> str:
    (folder / "N46W021.hgt").write_text("<html>not found</html>\n" * 50, encoding="utf-8")
    return "N46W021.hgt"


def truncated_tif(folder: Path, dem: str) -> str:
    for name in ("N46W022.tif", "N47W022.tif", "N46W021.hgt.zip"):
        shutil.copy(Path(dem) / name, folder)
    whole = (Path(dem) / "N47W021.tif").read_bytes()
    (folder / "N47W021.tif").write_bytes(whole[: len(whole) // 2])
    return "N47W021.tif"


def truncated_zip(folder: Path, dem: str) -> str:
    for name in ("N46W022.tif", "N47W021.tif", "N47W022.tif"):
        shutil.copy(Path(dem) / name, folder)
    whole = (Path(dem) / "N46W021.hgt.zip").read_bytes()
    (folder / "N46W021.hgt.zip").write_bytes(whole[: len(whole) // 2])
    return "N46W021"


def truncated_hgt(folder: Path, dem: str) -> str:
    (folder / "N46W021.hgt").write_bytes(bytes(1201 * 1201))  # half of 1201 x 1201 samples of two bytes
    return "N46W021.hgt"


def unreadable(folder: Path, dem: str) -> str:
    (folder / "N46W021.tif").write_bytes(b"II*\x00" + b"\xff" * 400)
    return "N46W021.tif"


def without_crs(folder: Path, dem: str) -> str:
    with rasterio.open(
        folder / "N46W021.tif",
        "w",
        driver="GTiff",
        width=60,
        height=60,
        count=1,
        dtype="int16",
        transform=Affine(1 / 60, 0, -21, 0, -1 / 60, 47),
    ) as dataset:
        dataset.write(np.zeros((60, 60), "int16"), 1)
    return "no coordinate reference system"


def empty(folder: Path, dem: str) -> str:
    return "no elevation rasters"


def absent(folder: Path, dem: str) -> str:
    folder.rmdir()
    return "no file or folder"


USELESS = [
    text_named_hgt,
    truncated_tif,
    truncated_zip,
    truncated_hgt,
    unreadable,
    without_crs,
    empty,
    absent,
]


@pytest.mark.parametrize("make", USELESS)
def test_useless_tiles(run: Callable, tmp_path: Path, dem: str, make: Callable[[Path, str], str]) -> None:
    folder = tmp_path / "tiles"
    folder.mkdir()
    told = make(folder, dem)
    # Gull Tor is on N47W021 and Marsh End on N46W021, which are the ones spoilt.
    line = run("reach", GULL_TOR, MARSH_END, "--dem", str(folder), "--chart", "path.png").refusal()
    assert told in line


@pytest.mark.parametrize("make", [text_named_hgt, without_crs, empty, absent])
def test_tiles_names_what_is_needed_where_files_are_no_use(
    run: Callable, tmp_path: Path, dem: str, make: Callable[[Path, str], str]
) -> None:
    folder = tmp_path / "tiles"
    folder.mkdir()
    told = make(folder, dem)
    line = run("tiles", GULL_TOR, MARSH_END, "--dem", str(folder)).refusal()
    assert told in line
    assert all(name in line for name in ("N46W021", "N47W021"))


def test_nothing_is_drawn_when_the_path_fails(reach: Callable, alone: Path) -> None:
    (alone / "path.png").write_bytes(b"what was there")
    reach("--chart", "path.png", b="47.5,-18.5").refusal()
    assert (alone / "path.png").read_bytes() == b"what was there"


def test_debug_gives_the_traceback(shell: Callable) -> None:
    plain, full = shell("locate", "nonsense"), shell("locate", "nonsense", "--debug")
    assert plain.returncode == 2
    assert plain.stderr.count("\n") == 1
    assert full.returncode != 0
    assert "Traceback" in full.stderr
    assert "LocationError" in full.stderr
    assert full.stdout == ""


def test_a_key_of_a_book_steers_no_terminal(run: Callable, alone: Path) -> None:
    (alone / "trip.toml").write_text('"a\\u001b[31m\\u009b\\u0007" = 1\n', encoding="utf-8")
    said = run("rank", "Gull Tor", "--book", "trip.toml").refusal()
    assert "a?[31m??" in said
    assert said.isprintable()


def test_the_name_of_a_book_steers_no_terminal(run: Callable) -> None:
    assert run("rank", "Gull Tor", "--book", "no\x1b[31m.toml").refusal().isprintable()
