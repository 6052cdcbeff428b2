from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.area.landmarks import Landmark, OnSkyline, against_skyline
from pathprofile.area.skyline import Skyline
from pathprofile.draw.skyline_chart import draw_skyline, save_skyline_chart
from pathprofile.draw.skyline_marks import spread_out
from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, Page
from pathprofile.draw.tones import DIM
from pathprofile.errors import OutputError
from pathprofile.places import Location

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SMALL = Page(dpi=75.0)
_AZIMUTH = np.arange(3600) / 10.0


def skyline(kind: str = "hills") -> Skyline:
    """Horizons of every kind; a narrow peak of 4° stands at 210°. The dip of the sea is 0.62° at 93 km."""
    height = 0.5 * np.sin(np.radians(3 * _AZIMUTH)) + 0.18 * np.sin(np.radians(41 * _AZIMUTH))
    height[2100] = 4.0
    far = 30_000.0 + 10_000.0 * np.sin(np.radians(2 * _AZIMUTH))
    reach = np.full(3600, 160_000.0)
    if kind == "sea":
        height, far = np.full(3600, -0.4), np.full(3600, 90_000.0)
    if kind == "gap":
        reach[600:1400] = 20_000.0
        far[600:1400] = 19_000.0
        height[2800:3000] = far[2800:3000] = np.nan
        reach[2800:3000] = 0.0
    if kind == "edge":  # the map ends over the sea in the east
        reach[600:1400] = far[600:1400] = 28_000.0
        height[600:1400] = -1.1
    if kind == "nothing":
        height, far, reach = np.full(3600, np.nan), np.full(3600, np.nan), np.zeros(3600)
    if kind == "pit":
        height = 30.0 + height
    if kind == "cliff":
        height = height - 20.0
    return Skyline(
        Location(47.0, -21.0, label="Gull Tor"),
        506.0,
        8_494_677.0,
        _AZIMUTH,
        height,
        far,
        np.where(np.isnan(height), np.nan, 700.0),
        reach,
        160_000.0,
        (),
    )


def stations(found: Skyline, count: int, *, crowd: bool = False, name: str = "Hill {}") -> list[OnSkyline]:
    spots = np.linspace(150.0, 200.0, count) if crowd else np.linspace(2.0, 358.0, count)
    return [
        against_skyline(
            found,
            Landmark(name.format(i + 1), 8_000.0 + 9_000.0 * i, float(azimuth)),
            [300.0, 900.0, 2600.0][i % 3],
        )
        for i, azimuth in enumerate(spots)
    ]


def _texts(figure: Figure) -> dict[str, str]:
    return {text.get_gid(): text.get_text() for text in figure.texts}


def _axes(figure: Figure, name: str) -> Axes:
    return next(axes for axes in figure.axes if axes.get_gid() == name)


def _artist(where: Any, name: str) -> Any:
    found = [one for one in where.get_children() if one.get_gid() == name]
    assert len(found) == 1, f"{len(found)} artists named {name}"
    return found[0]


@pytest.mark.parametrize("kind", ["hills", "sea", "gap", "edge", "nothing", "pit", "cliff"])
@pytest.mark.parametrize("count", [0, 7, 40])
def test_every_text_is_whole_and_alone(kind: str, count: int) -> None:
    found = skyline(kind)
    crowd = count == 7
    name = "A station with a name far too long for its line, number {}"
    figure = draw_skyline(
        found,
        stations=stations(found, count, crowd=crowd, name=name),
        declination_deg=-6.2 if count else None,
        terrain="N47W021 and more",
        page=SMALL,
    )
    width, height = figure.canvas.get_width_height()
    boxes = [(text.get_gid(), text.get_window_extent()) for text in figure.texts if text.get_text()]
    for at, (gid, box) in enumerate(boxes):
        assert min(box.x0, box.y0, width - box.x1, height - box.y1) >= 0, f"{gid} is cut off"
        for other, its in boxes[at + 1 :]:
            apart = (
                box.x1 <= its.x0 + 1 or its.x1 <= box.x0 + 1 or box.y1 <= its.y0 + 1 or its.y1 <= box.y0 + 1
            )
            assert apart, f"{gid} and {other} overlap"


def test_north_is_at_both_ends_and_east_comes_before_south() -> None:
    figure = draw_skyline(skyline(), page=SMALL)
    at = {}
    for text in figure.texts:
        if str(text.get_gid()).startswith("bearing-true-"):
            at.setdefault(text.get_text(), []).append(text.get_window_extent())
    middle = {name: [(box.x0 + box.x1) / 2 for box in boxes] for name, boxes in at.items()}
    panel = _axes(figure, "skyline").get_window_extent()
    assert middle["N"] == pytest.approx([panel.x0, panel.x1], abs=1.5)
    for name, share in (("E", 0.25), ("S", 0.5), ("W", 0.75)):
        assert middle[name] == pytest.approx([panel.x0 + share * panel.width], abs=1.5)


@pytest.mark.parametrize("declination_deg", [-6.2, 14.0, 0.0])
def test_the_magnetic_scale_is_turned_by_the_declination(declination_deg: float) -> None:
    figure = draw_skyline(skyline(), declination_deg=declination_deg, page=SMALL)
    panel = _axes(figure, "distance").get_window_extent()
    box = next(
        text.get_window_extent()
        for text in figure.texts
        if str(text.get_gid()).startswith("bearing-mag.") and text.get_text() == "90°"
    )
    # magnetic = true − declination: 90° magnetic lies at 90° + declination true
    share = ((box.x0 + box.x1) / 2 - panel.x0) / panel.width
    assert 360.0 * share == pytest.approx(90.0 + declination_deg, abs=1.0)


def test_the_silhouette_keeps_the_narrowest_peak() -> None:
    figure = draw_skyline(skyline(), page=SMALL)
    ground = _artist(_axes(figure, "skyline"), "ground").get_paths()[0].vertices
    top = ground[np.argmax(ground[:, 1])]
    assert top[1] == 4.0
    assert top[0] == pytest.approx(210.0, abs=0.3)
    assert ground[:, 0].min() == 0.0
    assert ground[:, 0].max() == 360.0


def test_distances_are_the_results_own() -> None:
    found = skyline()
    figure = draw_skyline(found, page=SMALL)
    x, y = _artist(_axes(figure, "distance"), "horizon-distance").get_data()
    np.testing.assert_allclose(y, np.interp(x, _AZIMUTH, found.distance_m, period=360.0), rtol=0.01)


def test_stations_are_marked_by_how_they_stand() -> None:
    found = skyline()
    some = stations(found, 9)
    figure = draw_skyline(found, stations=some, declination_deg=-6.2, page=SMALL)
    axes, texts = _axes(figure, "skyline"), _texts(figure)
    for stands in ("above", "below", "before"):
        those = [one for one in some if one.stands == stands]
        assert those, stands
        x, y = _artist(axes, f"stations-{stands}").get_data()
        assert x.tolist() == [one.landmark.azimuth_deg for one in those]
        inside = [one.elevation_deg for one in those if one.elevation_deg > axes.get_ylim()[0] + 0.3]
        assert set(inside) <= set(y.tolist())
    shapes = {name: _artist(axes, f"stations-{name}").get_marker() for name in ("above", "below")}
    assert shapes["above"] != shapes["below"]
    first = some[0]
    assert texts["list-name-0"] == "Hill 1"
    # 2° true with 6.2° west is 8° magnetic; 8 km are 5.0 mi
    assert texts["list-said-0"].startswith("008° mag. (002°), 8.0 km / 5.0 mi, ")
    over = abs(first.elevation_deg - first.horizon_deg)
    assert texts["list-said-0"].endswith(
        {"above": f"{over:.1f}° above", "below": f"{over:.1f}° below", "before": "nearer than horizon"}[
            first.stands
        ]
    )


def test_numbers_stand_upright_in_the_order_of_bearing() -> None:
    found = skyline()
    some = stations(found, 25, crowd=True)[::-1]
    figure = draw_skyline(found, stations=some, page=SMALL)
    across = {
        int(text.get_gid().removeprefix("number-")): text.get_window_extent().x0
        for text in figure.texts
        if str(text.get_gid()).startswith("number-") and text.get_rotation() == 0.0
    }
    assert len(across) == 25
    ordered = sorted(across, key=lambda i: some[i].landmark.azimuth_deg)
    assert sorted(across, key=lambda i: across[i]) == ordered


def test_what_is_not_known_is_said_and_shown() -> None:
    found = skyline("gap")
    figure = draw_skyline(found, page=SMALL)
    whole = " ".join(_texts(figure).values())
    assert (
        "On 27 % of the bearings the ground is known only to 0.0 km / 0.0 mi or more: the horizon may"
        in whole
    )
    assert "no elevation data" in whole
    assert _artist(_axes(figure, "distance"), "unreached").get_paths()
    assert _artist(_axes(figure, "skyline"), "unknown").get_paths()
    assert "No ground known" in _texts(draw_skyline(skyline("nothing"), page=SMALL))["header-0"]


def test_the_header_gives_range_highest_and_lowest() -> None:
    texts = _texts(draw_skyline(skyline(), declination_deg=-6.0, page=SMALL))
    assert texts["header-0"] == "Horizon from −0.7° to +4.0°"
    assert texts["header-1"].startswith("Highest: 216° magnetic (210° true), ")
    assert texts["title"] == "Skyline from Gull Tor"


def test_the_edge_of_the_map_is_no_horizon() -> None:
    """Dip √(2h/a) of the sea from 506 m over 8 494.677 km, 0.625°: closed form."""
    found = skyline("edge")
    figure = draw_skyline(found, stations=stations(found, 7), page=SMALL)
    texts = _texts(figure)
    assert texts["header-0"] == "Horizon from −0.7° to +4.0° where known"
    whole = " ".join(texts.values())
    assert (
        "On 22 % of the bearings the map ends 28.0 km / 17.4 mi off or farther, short of the horizon" in whole
    )
    assert "it must be higher there than the ground known, at least −0.6°." in whole
    assert "may be higher" not in whole
    assert texts["key-at-least"]
    lowest = next(text for text in texts.values() if text.startswith("Lowest known: "))
    assert not 60.0 <= float(lowest.split(": ")[1][:3]) < 140.0
    for name, bound in (("skyline", -0.6254), ("distance", 28_000.0)):
        x, y = _artist(_axes(figure, name), "at-least-edge").get_data()
        drawn = np.isfinite(y)
        np.testing.assert_allclose(y[drawn], bound, rtol=1e-3)
        assert [x[drawn].min(), x[drawn].max()] == pytest.approx([60.0, 140.0], abs=0.5)
    outline = _artist(_axes(figure, "skyline"), "ground").get_paths()[0].vertices
    inside = outline[(outline[:, 0] > 61.0) & (outline[:, 0] < 139.0)]
    assert inside[:, 1].max() == _axes(figure, "skyline").get_ylim()[0]
    x, y = _artist(_axes(figure, "distance"), "horizon-distance").get_data()
    assert np.isnan(y[(x > 61.0) & (x < 139.0)]).all()
    assert "key-at-least" not in _texts(draw_skyline(skyline(), page=SMALL))


def test_no_bearing_but_open_ones() -> None:
    texts = _texts(draw_skyline(skyline("cliff"), page=SMALL))
    assert texts["header-0"] == "Horizon at least −0.7° all round"  # sea begins at 160 km, beyond its horizon
    assert not [text for text in texts.values() if text.startswith(("Highest", "Lowest"))]


def test_stations_are_not_measured_against_a_bound() -> None:
    found = skyline("edge")
    some = [
        against_skyline(found, Landmark("near", 9_000.0, 90.0), 500.0),
        against_skyline(found, Landmark("lost", 99_000.0, 90.0), float("nan")),
    ]
    texts = _texts(draw_skyline(found, stations=some, page=SMALL))
    assert texts["list-said-0"].endswith("above all ground known")
    assert texts["list-said-1"].endswith("no ground known there")


def test_grey_tells_tones_apart() -> None:
    """Luminance by ITU-R BT.601, as a printer without colour shows it; 25 of 255 is common practice."""
    tones = {
        name: np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) @ [0.299, 0.587, 0.114]
        for name, colour in (("paper", PAPER), ("orange", HIGHLIGHT), ("gap", DIM), ("ink", INK))
    }
    assert np.diff(sorted(tones.values())).min() > 25.0, tones


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_equal_pictures_give_equal_files(tmp_path: Path, suffix: str) -> None:
    found = skyline("gap")
    files = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for file in files:
        save_skyline_chart(found, file, stations=stations(found, 5), page=SMALL)
    assert files[0].read_bytes() == files[1].read_bytes()
    with pytest.raises(OutputError, match="exists already"):
        save_skyline_chart(found, files[0], overwrite=False, page=SMALL)
    with pytest.raises(OutputError, match=r"ends in .png, .svg or .pdf"):
        save_skyline_chart(found, tmp_path / "sky.jpeg")


@given(
    wanted=st.lists(st.floats(0.0, 100.0), max_size=30).map(sorted),
    apart=st.floats(0.1, 8.0),
)
def test_spread_out_places_keep_their_distance_and_order(wanted: list[float], apart: float) -> None:
    found = spread_out(np.array(wanted), apart, 0.0, 100.0)
    assert found.size == len(wanted)
    if len(wanted) > 1:
        step = min(apart, 100.0 / (len(wanted) - 1))
        assert (np.diff(found) >= step - 1e-9).all()
    assert (found >= -1e-9).all()
    assert (found <= 100.0 + 1e-9).all()


def test_spread_out_moves_nothing_that_has_room() -> None:
    np.testing.assert_allclose(spread_out(np.array([5.0, 20.0, 60.0]), 10.0, 0.0, 100.0), [5.0, 20.0, 60.0])
    # two at one place part evenly
    np.testing.assert_allclose(spread_out(np.array([50.0, 50.0]), 10.0, 0.0, 100.0), [45.0, 55.0])
