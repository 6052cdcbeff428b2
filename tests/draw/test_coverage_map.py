from __future__ import annotations

import errno
import os
import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from pathprofile.area.coverage import NO_GROUND, OUTSIDE, PREDICTED, TOO_NEAR, Coverage
from pathprofile.area.grid import Grid
from pathprofile.area.in_sight import HIDDEN, IN_SIGHT, UNKNOWN, InSight
from pathprofile.area.landmarks import Landmark
from pathprofile.area.verdicts import MARGINAL, SOLID, UNLIKELY, WORKABLE, Needs, VerdictTable
from pathprofile.atmosphere import Atmosphere
from pathprofile.draw import coverage_words
from pathprofile.draw.coverage_map import draw_coverage, save_coverage_map
from pathprofile.draw.style import Page
from pathprofile.draw.tones import GAP, NEAR, painted
from pathprofile.errors import OutOfRangeError, OutputError
from pathprofile.link.ends import End, equip
from pathprofile.places import Location
from pathprofile.station import SetUp, Station

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

NEEDS = Needs(140.0, 147.0, 8.0)
SMALL = Page(dpi=60.0)
MIDDLING = Page(dpi=96.0)


def cover(half: int = 150, cell_m: float = 200.0, *, gap: bool = False) -> Coverage:
    """Loss that rises with distance alone, so that verdicts are rings; east of a line no ground if asked."""
    grid = Grid(47.0, -21.0, cell_m, half)
    along = np.arange(-half, half + 1) * cell_m / 1000.0
    away = np.hypot(along[:, np.newaxis], along)
    status = np.where(away > half * cell_m / 1000.0, OUTSIDE, PREDICTED).astype(np.uint8)
    status[away < 2.5 * cell_m / 1000.0] = TOO_NEAR
    if gap:
        status[(status == PREDICTED) & (along > 0.1 * along[-1])] = NO_GROUND
    loss = np.where(status == PREDICTED, 90.0 + 2.5 * away, np.nan).astype(np.float32)
    return Coverage(
        site=Location(47.0, -21.0, label="Gull Tor"),
        site_ground_m=500.0,
        frequency_mhz=144.3,
        time_percent=50.0,
        antenna_agl_m=6.0,
        receiver_agl_m=10.0,
        polarization="vertical",
        atmosphere=Atmosphere(),
        azimuth_deg=np.arange(360.0),
        distance_m=np.arange(half + 1) * cell_m,
        loss_db=np.empty((0, 0)),
        reach_m=np.full(360, half * cell_m),
        grid=grid,
        map_loss_db=loss,
        map_status=status,
        radius_m=half * cell_m,
        resolution_m=523.0,
        bridged_share=0.0,
        notes=(),
    )


def verdicts(coverage: Coverage, needs: Needs = NEEDS) -> Any:
    return VerdictTable(needs).verdict(coverage.map_loss_db)


def sight(coverage: Coverage) -> InSight:
    """In sight is what lies west."""
    seen = np.full(coverage.grid.shape, HIDDEN, np.uint8)
    seen[:, : coverage.grid.half] = IN_SIGHT
    seen[coverage.map_status == OUTSIDE] = UNKNOWN
    return InSight(coverage.site, 506.0, 10.0, 8.5e6, coverage.grid, seen, 200.0, coverage.reach_m, ())


def hills(size: int = 120) -> Any:
    return 300.0 + 200.0 * np.add.outer(np.sin(np.arange(size) / 5.0), np.cos(np.arange(size) / 7.0))


def spiral(count: int, reach_m: float, name: str = "Hill {}") -> list[Landmark]:
    share = (np.arange(count) + 1) / (count + 1)
    return [
        Landmark(name.format(i + 1), float(reach_m * share[i]), float(137.5 * i % 360.0))
        for i in range(count)
    ]


def _texts(figure: Figure) -> dict[str, str]:
    return {text.get_gid(): text.get_text() for text in figure.texts}


def _areas(figure: Figure) -> tuple[Any, Any]:
    axes = next(axes for axes in figure.axes if axes.get_gid() == "map")
    picture = next(image for image in axes.images if image.get_gid() == "areas")
    return axes, np.asarray(picture.get_array())


def _tone(figure: Figure, east_m: float, north_m: float) -> Any:
    """Colours of a patch of the map round a place, hatching and all."""
    axes, picture = _areas(figure)
    low, high = axes.get_xlim()
    across = picture.shape[0]
    column = int((east_m - low) / (high - low) * across)
    row = int((high - north_m) / (high - low) * across)
    return picture[row - 12 : row + 13, column - 12 : column + 13, :3].astype(float)


CASES = {
    "plain": {},
    "all layers": {"seen": True, "relief_m": hills(), "places": spiral(9, 28_000.0)},
    "numbers": {"places": spiral(40, 29_000.0, "A station with a long-winded name, number {}")},
    "crowd": {"places": [Landmark(f"S{i}", 5_000.0 + i, 90.0) for i in range(30)]},
    "odd names": {
        "places": [Landmark("Pay $5 $_^2 \\frac{1} 漢字", 9_000.0, 30.0), Landmark("", 1e4, 200.0)]
    },
    "words": {
        "headline": "A headline of the caller that is by far too long for any single line of the page",
        "header_lines": ["Anyone with 50 W"] * 3,
        "terrain": ", ".join(f"N{i}W021" for i in range(30)),
    },
}


@pytest.mark.parametrize("gap", [False, True], ids=["whole", "gap"])
@pytest.mark.parametrize("name", CASES)
def test_every_text_is_whole_and_alone(name: str, gap: bool) -> None:
    coverage = cover(gap=gap)
    how: dict[str, Any] = dict(CASES[name])
    if how.get("seen"):
        how["seen"] = sight(coverage)
    figure = draw_coverage(coverage, verdicts(coverage), needs=NEEDS, page=MIDDLING, **how)
    width, height = figure.canvas.get_width_height()
    boxes = [(text.get_gid(), text.get_window_extent()) for text in figure.texts if text.get_text()]
    for at, (gid, box) in enumerate(boxes):
        assert min(box.x0, box.y0, width - box.x1, height - box.y1) >= 0, f"{gid} is cut off"
        for other, its in boxes[at + 1 :]:
            apart = (
                box.x1 <= its.x0 + 1 or its.x1 <= box.x0 + 1 or box.y1 <= its.y0 + 1 or its.y1 <= box.y0 + 1
            )
            assert apart or name == "crowd", f"{gid} and {other} overlap"


def test_names_stay_off_other_dots_and_the_site() -> None:
    coverage = cover()
    places = spiral(12, 29_000.0, "Station {}")
    figure = draw_coverage(coverage, verdicts(coverage), places=places, page=SMALL)
    axes, _ = _areas(figure)
    dots = next(line for line in axes.lines if line.get_gid() == "places")
    spots = axes.transAxes.transform(np.column_stack(dots.get_data()))
    site = axes.transData.transform((0.0, 0.0))
    names = {gid: text for gid, text in _texts(figure).items() if str(gid).startswith("place-")}
    assert list(names.values()) == [place.name for place in places]
    for text in figure.texts:
        if text.get_gid() in names:
            box = text.get_window_extent()
            for x, y in [*spots.tolist(), site.tolist()]:
                assert not (box.x0 < x < box.x1 and box.y0 < y < box.y1)


def test_places_lie_at_their_distance_and_azimuth_on_the_map() -> None:
    coverage = cover()
    figure = draw_coverage(
        coverage, verdicts(coverage), places=[Landmark("east", 20_000.0, 90.0)], page=SMALL
    )
    axes, _ = _areas(figure)
    dots = next(line for line in axes.lines if line.get_gid() == "places")
    spot = axes.transAxes.transform(np.column_stack(dots.get_data()))[0]
    np.testing.assert_allclose(axes.transData.inverted().transform(spot), (20_000.0, 0.0), atol=1.0)


def test_places_beyond_the_radius_are_left_out() -> None:
    coverage = cover()
    near_and_far = [Landmark("near", 20_000.0, 90.0), Landmark("far", 31_000.0, 90.0)]
    shown = _texts(draw_coverage(coverage, verdicts(coverage), places=near_and_far, page=SMALL)).values()
    assert "near" in shown
    assert "far" not in shown


def test_many_stations_become_numbers_and_a_list() -> None:
    coverage = cover()
    places = spiral(40, 29_000.0)
    texts = _texts(draw_coverage(coverage, verdicts(coverage), places=places, page=SMALL))
    assert {texts[f"place-{i}"] for i in range(40)} == {str(i + 1) for i in range(40)}
    assert [texts[f"list-name-{i}"] for i in range(40)] == [place.name for place in places]
    # 10 km are 6.2 mi
    places = [Landmark("one", 10_000.0, 4.6), *places]
    assert _texts(draw_coverage(coverage, verdicts(coverage), places=places, page=SMALL))["list-said-0"] == (
        "10.0 km / 6.2 mi, 005° true"
    )


def test_the_map_shows_the_verdict_of_each_cell() -> None:
    coverage = cover()
    codes = verdicts(coverage)
    figure = draw_coverage(coverage, codes)
    middle = coverage.grid.half
    seen = set()
    for away_m in (4_000.0, 15_000.0, 20_000.0, 24_000.0, 28_500.0):
        code = int(codes[middle - int(away_m / 200.0), middle])
        patch = codes[middle - int(away_m / 200.0) - 2 : middle - int(away_m / 200.0) + 3, middle]
        if (patch != code).any():
            continue
        seen.add(code)
        found = _tone(figure, 0.0, away_m)
        alone = painted(np.full((400, 400), code, np.uint8), 0.0, 1500 / 720)[:, :, :3].astype(float)
        # a patch of hatching is not in step with another: compare its lightest tone and its mean
        assert abs(found.mean() - alone.mean()) < 12.0, away_m
        np.testing.assert_allclose(found.max(axis=(0, 1)), alone.max(axis=(0, 1)), atol=1.0)
    assert {SOLID, UNLIKELY} <= seen
    assert len(seen) >= 3


def _grey(code: int) -> Any:
    """Luminance of a tone (ITU-R BT.601), as a printer without colour shows it."""
    return painted(np.full((300, 300), code, np.uint8), 0.0, 2.0)[:, :, :3] @ [0.299, 0.587, 0.114]


def test_tones_differ_in_grey_by_lightness_or_by_strokes() -> None:
    tones = {code: _grey(code) for code in (SOLID, WORKABLE, MARGINAL, UNLIKELY, GAP)}
    means = [tones[code].mean() for code in (SOLID, WORKABLE, MARGINAL, UNLIKELY)]
    assert means == sorted(means), "the better the odds, the darker the area as a whole"
    assert min(np.diff(means)) > 4.0
    strokes = {code: np.std(tone) for code, tone in tones.items()}
    assert max(strokes[SOLID], strokes[UNLIKELY]) < 1e-9
    assert strokes[WORKABLE] > strokes[MARGINAL] > 15.0
    assert tones[GAP].max() < tones[SOLID].min() - 25.0


def test_strokes_lean_their_own_way_each() -> None:
    def along(code: int, step: int) -> float:
        tone = _grey(code)
        return float(np.abs(tone[1:, 1:][:, ::step] - tone[:-1, :-1][:, ::step]).mean())

    def across(code: int) -> float:
        tone = _grey(code)
        return float(np.abs(tone[1:, :-1] - tone[:-1, 1:]).mean())

    assert across(WORKABLE) < 0.1 < along(WORKABLE, 1)
    assert along(MARGINAL, 1) < 0.1 < across(MARGINAL)


def test_a_gap_is_marked_counted_and_explained() -> None:
    coverage = cover(gap=True)
    figure = draw_coverage(coverage, verdicts(coverage))
    texts = " ".join(_texts(figure).values())
    missing = np.count_nonzero(coverage.map_status == NO_GROUND)
    share = round(100 * missing / np.count_nonzero(coverage.map_status != OUTSIDE))
    told = (f"{share} % of the circle unknown", f"No elevation data for {share} % of the circle")
    assert sum(words in texts for words in told) == 1  # in the headline or among the sentences, not twice
    assert "no elevation data: nothing predicted" in texts
    tone = _tone(figure, 20_000.0, 0.0)
    dim = painted(np.full((50, 50), GAP, np.uint8), 0.0, 2.0)[:, :, :3]
    np.testing.assert_allclose(tone.max(axis=(0, 1)), dim.max(axis=(0, 1)), atol=1.0)
    assert "elevation" not in " ".join(_texts(draw_coverage(cover(), verdicts(cover()), page=SMALL)).values())


def test_the_disc_too_near_is_explained_where_it_shows() -> None:
    small, large = cover(half=30), cover(half=150)
    words = "too near the site: nothing predicted"
    assert words in _texts(draw_coverage(small, verdicts(small), page=SMALL)).values()
    assert words not in _texts(draw_coverage(large, verdicts(large), page=SMALL)).values()
    tone = painted(np.full((4, 4), NEAR, np.uint8), 0.3, 2.0)
    assert (tone == tone[0, 0]).all()


@pytest.mark.parametrize(
    ("needs", "expected"),
    [
        (Needs(140.0, 147.0, 8.0), "Weaker direction: you → them, by 7 dB; odds are for both ways."),
        (Needs(140.0, 130.4, 8.0), "Weaker direction: them → you, by 10 dB; odds are for both ways."),
        (Needs(140.0, 141.0, 8.0), "Both directions are alike; odds are for both ways."),
        (Needs(140.0, None, 8.0), "One way only, you → them."),
        (Needs(None, 140.0, 8.0), "One way only, them → you."),
    ],
)
def test_the_weaker_direction_is_named(needs: Needs, expected: str) -> None:
    coverage = cover(half=40)
    assert expected in _texts(draw_coverage(coverage, verdicts(coverage), needs=needs, page=SMALL)).values()


@pytest.mark.parametrize(
    ("limit", "expected"),
    [
        (400.0, "SOLID all over the map"),
        (10.0, "UNLIKELY all over the map"),
        (98.0, "MARGINAL at best"),
        (140.0, "WORKABLE or better on"),
    ],
)
def test_the_headline_says_how_much_is_worth_a_call(limit: float, expected: str) -> None:
    coverage = cover(half=60)
    needs = Needs(limit, limit, 8.0)
    figure = draw_coverage(coverage, verdicts(coverage, needs), needs=needs, page=SMALL)
    assert _texts(figure)["header-0"].startswith(expected)


def test_the_headline_is_of_the_known_ground_alone() -> None:
    """Unknown is what lies east of a tenth of the radius: (θ − sin θ cos θ)/π of the circle, cos θ = 0.1."""
    turn = np.arccos(0.1)
    share = (turn - np.sin(turn) * 0.1) / np.pi
    coverage = cover(gap=True)
    whole = coverage_words.headline(coverage, verdicts(coverage))
    assert whole.endswith(" % of the circle unknown")
    assert " % of the known ground; " in whole
    assert float(whole.split("; ")[1].split()[0]) == pytest.approx(100.0 * share, abs=1.0)
    status = np.where(coverage.map_status == NO_GROUND, PREDICTED, coverage.map_status)
    status[150, 151:190] = NO_GROUND
    little = replace(coverage, map_status=status)
    assert coverage_words.headline(little, verdicts(coverage)).endswith(" % of the known ground")
    assert coverage_words.headline(cover(), verdicts(cover())).endswith(" % of the map")
    alike = np.full(coverage.grid.shape, UNLIKELY, np.uint8)
    assert coverage_words.headline(coverage, alike).startswith("UNLIKELY all over the known ground; 43 %")


def test_both_stations_and_the_lone_method_are_named() -> None:
    coverage = cover(half=40)
    you = equip(
        Station(name="A", place="47.0 -21.0", set_ups=[SetUp(bands=["2 m"], power_w=10, height_m=6)]),
        144.3,
        "ssb",
    )
    there = equip(Station(name="B", place="47.0 -21.5"), 144.3, "ssb")
    assert isinstance(you, End)
    assert isinstance(there, End)
    figure = draw_coverage(coverage, verdicts(coverage), ends=(you, there), page=SMALL)
    whole = " ".join(_texts(figure).values())
    assert "You: 10 W, 6 m up; assumed antenna 5 dBi, noise residential." in whole
    assert "A station there: assumed 25 W, antenna 5 dBi, 8 m up, noise residential." in whole
    assert "One method alone, ITU-R P.1812-8" in whole


def test_the_radius_asked_is_told_not_that_of_the_last_ring() -> None:
    coverage = replace(cover(half=33, cell_m=90.0), radius_m=3000.0)
    assert (
        _texts(draw_coverage(coverage, verdicts(coverage), page=SMALL))["distance"]
        == "out to 3.0 km / 1.9 mi"
    )


def test_header_and_foot_say_what_from_where_and_how() -> None:
    coverage = cover()
    texts = _texts(draw_coverage(coverage, verdicts(coverage), mode="SSB", terrain="N47W021", page=SMALL))
    assert texts["title"] == "From Gull Tor"
    assert texts["distance"] == "out to 30 km / 19 mi"
    whole = " ".join(texts.values())
    assert "144.3 MHz SSB, vertical. Antennas above ground: 6 m (20 ft) here, 10 m (33 ft) there." in whole
    assert "Map N47W021. Detail 523 m. k 1.33. ITU-R P.1812-8 alone, 50 % of time." in whole
    assert "not a safety line" in texts["caution"]


def test_shares_in_words_add_up() -> None:
    coverage = cover()
    codes = verdicts(coverage)
    line = next(
        text
        for text in _texts(draw_coverage(coverage, codes, page=SMALL)).values()
        if text.startswith("Solid")
    )
    stated = [int(part.split()[-2]) for part in line.rstrip(".").split(", ")]
    assert sum(stated) == pytest.approx(100, abs=2)
    known = np.count_nonzero(codes)
    assert stated[0] == round(100 * np.count_nonzero(codes == SOLID) / known)


def test_rings_are_circles_at_round_distances() -> None:
    coverage = cover()
    figure = draw_coverage(coverage, verdicts(coverage))
    axes, _ = _areas(figure)
    texts = _texts(figure)
    assert [texts[f"ring-text-{i}"] for i in range(2)] == ["10 km / 6.2 mi", "20 km / 12 mi"]
    rings = {line.get_gid(): line.get_xydata() for line in axes.lines}
    np.testing.assert_allclose(np.hypot(*rings["ring-1"].T), 20_000.0)
    np.testing.assert_allclose(np.hypot(*rings["rim"].T), 30_000.0)
    # a circle on the page too
    width, height = axes.get_window_extent().size
    assert width == pytest.approx(height, rel=1e-6)


def test_the_edge_of_sight_follows_the_map_but_not_its_end() -> None:
    coverage = cover()
    figure = draw_coverage(coverage, verdicts(coverage), seen=sight(coverage), page=SMALL)
    axes, _ = _areas(figure)
    lines = next(found for found in axes.collections if found.get_gid() == "seen")
    points = np.vstack([path.vertices for path in lines.get_paths()])
    assert np.abs(points[:, 0]).max() < 600.0  # west is in sight, east is not; the rim is no edge
    assert np.ptp(points[:, 1]) > 50_000.0
    everything = replace(sight(coverage), map_seen=np.full(coverage.grid.shape, IN_SIGHT, np.uint8))
    draw_coverage(coverage, verdicts(coverage), seen=everything, page=SMALL)  # no edge at all is no error


def test_maps_that_do_not_fit_are_refused() -> None:
    coverage, other = cover(half=40), cover(half=41)
    with pytest.raises(OutOfRangeError, match=r"verdicts of shape \(83, 83\).*give one a cell"):
        draw_coverage(coverage, verdicts(other))
    with pytest.raises(OutOfRangeError, match="ask both for the same site"):
        draw_coverage(coverage, verdicts(coverage), seen=sight(other))


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_equal_pictures_give_equal_files(tmp_path: Path, suffix: str) -> None:
    coverage = cover(half=60, gap=True)
    files = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for file in files:
        save_coverage_map(
            coverage,
            verdicts(coverage),
            file,
            page=SMALL,
            seen=sight(coverage),
            relief_m=hills(),
            places=spiral(5, 11_000.0),
        )
    assert files[0].read_bytes() == files[1].read_bytes()
    assert files[0].stat().st_size > 10_000
    if suffix == ".svg":
        root = ET.parse(files[0]).getroot()  # noqa: S314 - written just now
        assert sum("image" in element.tag for element in root.iter()) >= 1
    if suffix == ".png":
        with Image.open(files[0]) as picture:
            assert picture.width == 600
            assert picture.info["Title"] == "Coverage from Gull Tor"


def test_nothing_half_written_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    coverage = cover(half=30)
    with pytest.raises(OutputError, match=r"ends in .png, .svg or .pdf"):
        save_coverage_map(coverage, verdicts(coverage), tmp_path / "map.jpg")
    target = tmp_path / "map.png"
    target.write_bytes(b"kept")
    with pytest.raises(OutputError, match="exists already"):
        save_coverage_map(coverage, verdicts(coverage), target, page=SMALL, overwrite=False)

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="the disk is full"):
        save_coverage_map(coverage, verdicts(coverage), target, page=SMALL)
    assert target.read_bytes() == b"kept"
    assert [file.name for file in tmp_path.iterdir()] == ["map.png"]


@pytest.mark.parametrize("half", [5, 21, 700])
def test_coarse_and_fine_maps_are_drawn(half: int) -> None:
    coverage = cover(half=half)
    _, picture = _areas(draw_coverage(coverage, verdicts(coverage), page=SMALL, relief_m=hills(3)))
    assert picture.shape[:2] == (563, 563)  # 676 of 720 layout points, at 600 dots
