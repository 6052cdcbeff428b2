from __future__ import annotations

import errno
import io
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
import pytest
from PIL import Image

from pathprofile.draw.path_chart import draw_path, save_path_chart
from pathprofile.draw.style import PAPER, Page
from pathprofile.errors import OutputError
from pathprofile.reach import Reach

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.transforms import Bbox

Make = Callable[[str], Reach]


def _axes(figure: Figure, name: str) -> Axes:
    return next(axes for axes in figure.axes if axes.get_gid() == name)


def _artist(where: Any, name: str) -> Any:
    found = [a for a in where.get_children() if a.get_gid() == name]
    assert len(found) == 1, f"{len(found)} artists named {name}"
    return found[0]


def _texts(figure: Figure) -> dict[str, str]:
    return {text.get_gid(): text.get_text() for text in figure.texts}


def _boxes(figure: Figure) -> dict[str, Bbox]:
    return {text.get_gid(): text.get_window_extent() for text in figure.texts if text.get_text()}


def _header(figure: Figure) -> str:
    return " ".join(text for name, text in _texts(figure).items() if name.startswith("header-"))


def test_every_text_is_whole_and_alone(any_reach: Reach) -> None:
    figure = draw_path(any_reach)
    width, height = figure.canvas.get_width_height()
    boxes = list(_boxes(figure).items())
    for name, box in boxes:
        assert min(box.x0, box.y0, width - box.x1, height - box.y1) >= 0, f"{name} is cut off"
    for i, (name, box) in enumerate(boxes):
        for other, its in boxes[i + 1 :]:
            apart = (
                box.x1 <= its.x0 + 1 or its.x1 <= box.x0 + 1 or box.y1 <= its.y0 + 1 or its.y1 <= box.y0 + 1
            )
            assert apart, f"{name} and {other} overlap"


def test_labels_stand_clear_of_ground_and_line(any_reach: Reach) -> None:
    figure = draw_path(any_reach)
    axes = _axes(figure, "profile")
    seen = any_reach.sightline
    across = axes.transData.transform(
        np.column_stack(
            (any_reach.survey.cluttered.distance_m, np.maximum(seen.ground_with_bulge_m, seen.line_m))
        )
    )
    for name, box in _boxes(figure).items():
        if name.startswith(("label-", "number-")):
            under = (across[:, 0] >= box.x0) & (across[:, 0] <= box.x1)
            assert box.y0 >= across[under, 1].max(initial=0.0), f"{name} lies on the ground or the line"


def test_ground_line_and_zone_are_the_results_own(make_reach: Make) -> None:
    reach = make_reach("obstructed_160km")
    axes = _axes(draw_path(reach), "profile")
    seen, x = reach.sightline, reach.survey.cluttered.distance_m
    drawn = _artist(axes, "ground-line").get_xydata()
    np.testing.assert_allclose(drawn[:, 1], np.interp(drawn[:, 0], x, seen.ground_with_bulge_m), atol=1e-6)
    # thinning keeps the ends and the highest ground
    assert drawn[0, 0] == 0.0
    assert drawn[-1, 0] == x[-1]
    assert drawn[:, 1].max() == seen.ground_with_bulge_m.max()
    np.testing.assert_allclose(_artist(axes, "line").get_ydata(), seen.line_m[[0, -1]])
    middle = x[-1] / 2
    edge = _artist(axes, "zone-whole-upper").get_xydata()
    radius_m = np.interp(middle, edge[:, 0], edge[:, 1]) - np.interp(middle, x, seen.line_m)
    # F1 = 17.3 √(d1 d2 / (f d)) with GHz and km: handbook form, from memory; three digits
    assert radius_m == pytest.approx(17.3 * (80.15**2 / (0.14652 * 160.3)) ** 0.5, rel=2e-3)
    share = _artist(axes, "zone-share-upper").get_xydata()
    share_m = np.interp(middle, share[:, 0], share[:, 1]) - np.interp(middle, x, seen.line_m)
    assert share_m == pytest.approx(0.6 * radius_m, rel=1e-9)


def test_the_sea_level_curve_has_the_handbook_bulge(make_reach: Make) -> None:
    reach = make_reach("fifty_mhz")
    axes = _axes(draw_path(reach), "profile")
    x, y = _artist(axes, "sea-level-solid").get_xydata().T
    drawn = np.isfinite(y)
    assert drawn.any()
    d1 = x[drawn] / 1000
    # d1 d2 / (12.74 k): ITU-R P.530-18 §2.2.2.1
    np.testing.assert_allclose(y[drawn], d1 * (120.0 - d1) / (12.74 * 4 / 3), rtol=1e-3)


def test_masts_stand_on_the_ground_with_antennas_on_top(make_reach: Make) -> None:
    reach = make_reach("short_300m")
    axes = _axes(draw_path(reach), "profile")
    for name, end, x in (("from", reach.from_end, 0.0), ("to", reach.to_end, 300.0)):
        mast = _artist(axes, f"mast-{name}").get_xydata()
        np.testing.assert_allclose(mast, [[x, end.ground_m], [x, end.ground_m + end.antenna_agl_m]])
        np.testing.assert_allclose(_artist(axes, f"antenna-{name}").get_xydata()[0], mast[1])


@pytest.mark.parametrize(("name", "hatched"), [("obstructed_160km", True), ("partial_42km", False)])
def test_only_ground_above_the_line_is_hatched(make_reach: Make, name: str, hatched: bool) -> None:
    reach = make_reach(name)
    axes = _axes(draw_path(reach), "profile")
    strokes = [a for a in axes.get_children() if a.get_gid() == "ground-above-line"]
    assert bool(strokes) is hatched
    if hatched:
        ends = np.array(strokes[0].get_segments())
        x = reach.survey.cluttered.distance_m
        above = np.interp(ends[:, 0, 0], x, -reach.sightline.clearance_m)
        assert (above > -1.0).all()
        assert len(ends) > 10


def test_solid_ground_ends_at_the_line(make_reach: Make) -> None:
    reach = make_reach("obstructed_160km")
    solid = _artist(_axes(draw_path(reach), "profile"), "ground").get_paths()[0].vertices
    line_m = np.interp(solid[:, 0], reach.survey.cluttered.distance_m, reach.sightline.line_m)
    assert (solid[:, 1] <= line_m + 1e-6).all()


def test_the_whole_upper_zone_and_all_ground_are_in_view(any_reach: Reach) -> None:
    axes = _axes(draw_path(any_reach), "profile")
    low, high = axes.get_ylim()
    assert _artist(axes, "zone-whole-upper").get_ydata().max() < high
    assert any_reach.sightline.ground_with_bulge_m.max() < high
    assert any_reach.sightline.ground_with_bulge_m.min() > low


def test_leaders_run_past_every_label_to_their_dot_and_every_dot_has_a_number(any_reach: Reach) -> None:
    figure = draw_path(any_reach)
    axes, boxes = _axes(figure, "profile"), _boxes(figure)
    leaders = [a for a in figure.get_children() if str(a.get_gid()).startswith("leader-")]
    for artist in leaders:
        name = artist.get_gid().removeprefix("leader-")
        start, end = figure.transFigure.transform(artist.get_segments()[0])
        dot = axes.transData.transform(_artist(axes, f"obstacle-{name}").get_xydata()[0])
        np.testing.assert_allclose(end, dot, atol=0.1)
        along = start + np.linspace(0.02, 1.0, 80)[:, None] * (end - start)
        for other, box in boxes.items():
            through = ((along > box.min) & (along < box.max)).all(axis=1)
            assert not through.any(), f"the leader of {name} runs through {other}"
    dots = {
        artist.get_gid().removeprefix("obstacle-"): artist.get_xdata()
        for artist in axes.get_children()
        if str(artist.get_gid()).startswith("obstacle")
    }
    assert all(x.size == 1 for x in dots.values())
    numbers = sorted((name for name in dots if name != "limit"), key=int)
    assert {f"number-{name}" for name in numbers} == {name for name in boxes if name.startswith("number-")}
    for order in ([dots[name][0] for name in numbers], [boxes[f"number-{name}"].x0 for name in numbers]):
        assert order == sorted(order), "labels and dots from left to right"


def test_paper_behind_every_label_hides_the_dotted_zone(make_reach: Make) -> None:
    figure = draw_path(make_reach("obstructed_160km"))
    for name, box in _boxes(figure).items():
        if name.startswith("label-"):
            plate = _artist(figure, f"plate-{name.split('-')[1]}")
            assert plate.get_facecolor()[:3] == mpl.colors.to_rgb(PAPER)
            behind = plate.get_window_extent()
            assert behind.x0 <= box.x0
            assert behind.x1 >= box.x1 - 1
            assert behind.y0 <= box.y0 + 1
            assert behind.y1 >= box.y1 - 1
            assert plate.get_zorder() > _axes(figure, "profile").get_zorder()


def test_the_scale_says_that_heights_are_drawn_with_the_bulge(make_reach: Make) -> None:
    """The bulge of 300 m is a millimetre: (150 m)^2 / (2 * 8500 km), ITU-R P.530-18 section 2.2.2.1."""
    words = "Heights drawn with the Earth's bulge (k 1.33); labels give metres above the sea"
    assert _texts(draw_path(make_reach("obstructed_160km")))["profile-title"] == words
    assert "profile-title" not in _texts(draw_path(make_reach("short_300m")))


def test_obstacles_are_marked_and_labelled(make_reach: Make) -> None:
    reach = make_reach("obstructed_160km")
    figure = draw_path(reach)
    texts, axes = _texts(figure), _axes(figure, "profile")
    assert len(reach.obstacles.kept) == 5
    for number, obstacle in enumerate(reach.obstacles.kept, start=1):
        assert texts[f"number-{number}"] == str(number)
        height_m, distance_km = re.fullmatch(
            r"([\d.]+) m at ([\d.]+) km", texts[f"label-{number}-0"]
        ).groups()
        assert float(height_m) == pytest.approx(obstacle.top_m, abs=0.5)
        assert float(distance_km) == pytest.approx(obstacle.distance_m / 1000, abs=0.5)
        above_m = re.fullmatch(r"([\d.]+) m above line", texts[f"label-{number}-1"]).group(1)
        assert float(above_m) == pytest.approx(-obstacle.clearance_m, abs=0.5)
        assert _artist(axes, f"obstacle-{number}").get_xdata()[0] == pytest.approx(obstacle.distance_m)


def test_a_rounded_obstacle_is_marked_on_its_ground_not_on_the_edge_that_stands_for_it(
    make_reach: Make,
) -> None:
    reach = make_reach("sea_60km")
    assert reach.obstacles.kept[0].top_m > 1.0  # the edge hovers
    figure = draw_path(reach)
    texts = _texts(figure)
    assert texts["label-1-0"].startswith("0 m at ")
    dot = _artist(_axes(figure, "profile"), "obstacle-1").get_xydata()[0]
    bulge_km = 900 / (12.74 * 4 / 3)  # 30 km × 30 km, ITU-R P.530-18 §2.2.2.1
    assert dot[1] == pytest.approx(bulge_km, rel=5e-3)


def test_the_tightest_point_is_named_when_nothing_is_in_the_way(make_reach: Make) -> None:
    texts = _texts(draw_path(make_reach("level_ends")))
    assert any(text.endswith("below line, tightest") for text in texts.values())


def test_the_clearance_strip_is_cut_and_says_so(make_reach: Make) -> None:
    reach = make_reach("wall_4000m")
    figure = draw_path(reach)
    axes = _axes(figure, "clearance")
    assert reach.sightline.minimum_fresnel_ratio < -2
    inside = _artist(axes, "ratio").get_ydata()
    assert np.nanmin(inside) >= -1.0
    assert np.nanmax(inside) <= 2.0
    cut = _artist(axes, "ratio-cut").get_ydata()
    assert set(cut[np.isfinite(cut)]) <= {-1.0, 2.0}
    assert -1.0 in cut
    assert "cut off at −1 and 2" in _texts(figure)["clearance-title"]
    for level in (0.0, 0.6):
        assert list(_artist(axes, f"level-{level:g}").get_ydata()) == [level, level]


def test_two_scales_of_distance_and_of_height(make_reach: Make) -> None:
    figure = draw_path(make_reach("obstructed_160km"))
    texts, boxes, axes = _texts(figure), _boxes(figure), _axes(figure, "profile")
    for unit, metres, mark in (("km", 1000.0, "distance"), ("mi", 1609.344, "distance")):
        i = 2
        value = float(texts[f"{mark}-{unit}-{i}"].removesuffix(f" {unit}"))
        x = axes.transData.transform((value * metres, 0.0))[0]
        assert (boxes[f"{mark}-{unit}-{i}"].x0 + boxes[f"{mark}-{unit}-{i}"].x1) / 2 == pytest.approx(
            x, abs=2
        )
    for unit, metres in (("m", 1.0), ("ft", 0.3048)):
        assert texts[f"height-{unit}"] == unit
        value = float(texts[f"height-{unit}-1"])
        y = axes.transData.transform((0.0, value * metres))[1]
        box = boxes[f"height-{unit}-1"]
        assert (box.y0 + box.y1) / 2 == pytest.approx(y, abs=6)


def test_the_header_says_it_all(make_reach: Make) -> None:
    figure = draw_path(make_reach("obstructed_160km"))
    texts, header = _texts(figure), _header(figure)
    assert texts["title"] == "Gull Tor to Marsh End"
    assert texts["distance"] == "160.3 km / 99.6 mi"
    for part in (
        "No line of sight",
        "Usual at this distance; that alone does not rule out a contact.",
        "047° magnetic (044° true)",
        "228° magnetic (225° true)",
        "Loss 172.0 dB, best estimate; second opinion 168.2 dB: methods disagree by 3.9 dB.",
        "146.52 MHz, horizontal. Antennas 6 m and 10 m (20 and 33 ft) above ground.",
    ):
        assert part in header
    for part in ("N46W022", "surface model", "k 1.33", "2025-06-14", "pathprofile ", "ITU-R P.1812-8"):
        assert part in texts["foot"]
    assert texts["caution"] == (
        "A prediction is not a safety line. Keep masts twice their height from power lines."
    )


def test_a_later_answer_takes_the_headline_and_sight_becomes_a_fact(make_reach: Make) -> None:
    reach = make_reach("obstructed_160km")
    lines = [
        "You will hear Marsh End well; they may not hear you.",
        "You to them +3.4 dB, them to you +14.4 dB.",
    ]
    figure = draw_path(reach, headline="MARGINAL on 2 m SSB, about 6 in 10", header_lines=lines)
    header = _header(figure)
    assert header.startswith("MARGINAL on 2 m SSB, about 6 in 10 You will hear")
    assert "No line of sight. Counts most: ground 992 m above the line" in header
    assert lines[1] in header


def test_a_very_long_header_makes_the_page_taller_not_the_profile_flatter(make_reach: Make) -> None:
    reach = make_reach("partial_42km")
    usual, long = (
        draw_path(reach, header_lines=["A sentence that fills a line or so."] * n) for n in (0, 14)
    )
    assert long.get_figheight() > usual.get_figheight() + 3
    heights = [_axes(figure, "profile").get_window_extent().height for figure in (usual, long)]
    assert heights[1] > 0.9 * heights[0]


def test_a_long_headline_shrinks_then_wraps_inside_the_page(make_reach: Make) -> None:
    figure = draw_path(make_reach("partial_42km"), headline="Marginal " * 14)
    assert all(box.x1 <= figure.bbox.width for box in _boxes(figure).values())


def test_what_users_type_is_never_read_as_mathematics(make_reach: Make, tmp_path: Path) -> None:
    reach = make_reach("odd_names")
    figure = draw_path(reach)
    assert _texts(figure)["name-from"] == "Pay $5 $_^2 \\frac{1} □□ hut"
    assert not any(text.get_parse_math() for text in figure.texts)
    assert _texts(figure)["name-to"] == "46.2152° N 21.3027° W"  # nothing of that name can be shown
    for suffix in (".png", ".svg", ".pdf"):
        save_path_chart(
            reach, tmp_path / f"odd{suffix}", headline="$x^2 & <b>", header_lines=["漢字 \u200b\x07 ok"]
        )


def test_long_names_are_shortened(make_reach: Make) -> None:
    texts = _texts(draw_path(make_reach("long_names")))
    assert texts["name-from"].startswith("Upper Windward")
    assert texts["name-from"].endswith("…")
    assert texts["title"].count("…") == 2


def test_filled_holes_of_the_map_are_shown(make_reach: Make) -> None:
    reach = make_reach("holes")
    figure = draw_path(reach)
    stretch = _artist(_axes(figure, "profile"), "bridge-1-dashes").get_xdata()
    assert stretch[0] == pytest.approx(24_000.0, abs=30)
    assert stretch[-1] == pytest.approx(27_000.0, abs=30)
    assert "map hole, filled" in _texts(figure).values()
    assert "map hole, filled" not in _texts(draw_path(make_reach("uhf"))).values()


def test_png_has_the_size_of_the_page_and_is_not_blank(make_reach: Make, tmp_path: Path) -> None:
    save_path_chart(make_reach("clear_30km"), tmp_path / "a.PNG", page=Page(8.0, 6.0, 100.0))
    with Image.open(tmp_path / "a.PNG") as image:
        assert image.format == "PNG"
        assert image.width == 800
        assert 600 <= image.height <= 720
        grey = np.asarray(image.convert("L"))
    assert grey.min() < 60
    assert 0.05 < (grey < 80).mean() < 0.6
    assert (grey > 240).mean() > 0.3


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_equal_results_give_equal_files(make_reach: Make, tmp_path: Path, suffix: str) -> None:
    for name in "ab":
        save_path_chart(make_reach("obstructed_160km"), tmp_path / f"{name}{suffix}")
    first, second = ((tmp_path / f"{name}{suffix}").read_bytes() for name in "ab")
    assert first == second
    assert sorted(p.name for p in tmp_path.iterdir()) == [f"a{suffix}", f"b{suffix}"]


def test_svg_is_well_formed_with_unique_ids_that_all_resolve(make_reach: Make, tmp_path: Path) -> None:
    save_path_chart(make_reach("odd_names"), tmp_path / "a.svg")
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    root = ET.fromstring(text)  # noqa: S314 - our own file
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'(?:href="#|url\(#)([\w-]+)', text)) <= set(ids)
    assert "Pay $5 $_^2 \\frac{1} 漢字 hut to 東京の山" in "".join(root.itertext())


def test_pdf_carries_no_date(make_reach: Make, tmp_path: Path) -> None:
    save_path_chart(make_reach("uhf"), tmp_path / "a.pdf")
    content = (tmp_path / "a.pdf").read_bytes()
    assert content.startswith(b"%PDF")
    assert b"CreationDate" not in content


@pytest.mark.parametrize("name", ["a.jpg", "a", "a.png.txt", "svg"])
def test_other_suffixes_are_refused_with_those_accepted(make_reach: Make, tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match=r"ends in \.png, \.svg or \.pdf"):
        save_path_chart(make_reach("uhf"), tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_missing_folder(make_reach: Make, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="there is no folder"):
        save_path_chart(make_reach("uhf"), tmp_path / "none" / "a.png")


def test_a_full_disk_keeps_the_old_picture(
    make_reach: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    (tmp_path / "a.png").write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OutputError, match="the disk is full"):
        save_path_chart(make_reach("uhf"), tmp_path / "a.png")
    assert [p.name for p in tmp_path.iterdir()] == ["a.png"]
    assert (tmp_path / "a.png").read_bytes() == b"old"


def test_matplotlib_is_left_as_it_was_and_pyplot_stays_out(make_reach: Make) -> None:
    before = dict(mpl.rcParams)
    draw_path(make_reach("uhf")).savefig(io.BytesIO(), format="png")
    assert dict(mpl.rcParams) == before
    code = (
        "import sys, pathprofile.draw.path_chart as c; print([m for m in sys.modules if 'matplotlib' in m])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"  # matplotlib waits until something is drawn


def test_a_users_own_matplotlib_settings_change_nothing(make_reach: Make) -> None:
    reach = make_reach("partial_42km")
    plain, dressed = io.BytesIO(), io.BytesIO()
    draw_path(reach).savefig(plain, format="png")
    theirs = {"figure.facecolor": "black", "lines.marker": "x", "axes.grid": True, "figure.autolayout": True}
    with mpl.rc_context(theirs):
        draw_path(reach).savefig(dressed, format="png")
    assert plain.getvalue() == dressed.getvalue()


def test_without_a_second_opinion_the_spread_of_methods_is_told(make_reach: Make) -> None:
    reach = make_reach("obstructed_160km")
    reach = replace(reach, loss=replace(reach.loss, second_opinion=None))
    assert "best estimate; other methods 166.0 to 168.2 dB; free space 119.8 dB." in _header(draw_path(reach))
