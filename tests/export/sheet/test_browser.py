"""The sheet in a real browser: quiet, offline, complete without scripts, and its sums equal the library's."""

from __future__ import annotations

import itertools
import json
import math
import re
import shutil
import struct
import subprocess
from dataclasses import replace
from importlib import resources
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pathprofile.contact import path_facts
from pathprofile.errors import LocationError
from pathprofile.export.sheet import sheet_html, write_sheet
from pathprofile.export.sheet.browser import file_url
from pathprofile.geodesy import inverse, magnetic_azimuth_deg
from pathprofile.link.chance import Spread, pair_chances, time_spread
from pathprofile.link.ends import End, equip
from pathprofile.link.evaluate import Pair, evaluate
from pathprofile.link.exposure import exposure
from pathprofile.link.words import odds_text, verdict
from pathprofile.places import notations, parse_location
from pathprofile.reach import assess
from pathprofile.station.catalogue import MODES
from pathprofile.trip.sheet_calls import expectation
from pathprofile.trip.sheet_ladder import with_extra_noise
from pathprofile.trip.sheet_order import ToCall, call_order

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from pathprofile.contact import Contact
    from pathprofile.export.sheet.browser import Tab
    from pathprofile.link.evaluate import Link
    from pathprofile.trip.sheet import Sheet
    from pathprofile.trip.sheet_calls import Call

TROUBLE = {"Runtime.exceptionThrown", "Runtime.consoleAPICalled", "Log.entryAdded"}
ALTERED = [
    {},
    {"power": 5.0},
    {"line": 4.0},
    {"noise": 10.0},
    {"mast": 6.0},
    {"mast": 1.5},
    {"polarization": "vertical"},
    {"polarization": "horizontal"},
    {"mode": "morse"},
    {"mode": "fm"},
    {"power": 50.0, "line": 0.5, "noise": 6.0, "mast": 5.0, "polarization": "vertical", "mode": "morse"},
]


def show(tab: Tab, page: Path, width: int = 800, *, mobile: bool = False) -> None:
    tab.command("Emulation.setScriptExecutionDisabled", value=False)
    tab.command("Emulation.setEmulatedMedia", media="")
    tab.resize(width, 800, mobile=mobile)
    tab.open(file_url(page))


def show_plan(tab: Tab, page: Path) -> None:
    """As `show` at the usual width, but a page that is open already goes back to its plan."""
    if tab.evaluate("location.href") == file_url(page) and tab.evaluate("innerWidth") == 800:
        tab.evaluate("document.getElementById('planned').click()")
    else:
        show(tab, page)


def type_in(tab: Tab, **values: Any) -> None:
    """Fill fields as a finger would: value, then the event."""
    for name, value in values.items():
        tab.evaluate(
            f"(() => {{ const f = document.getElementById({json.dumps(name)}); f.value = "
            f"{json.dumps(str(value))}; f.dispatchEvent(new Event('input', {{bubbles: true}})); }})()"
        )


def text_of(tab: Tab, selector: str) -> Any:
    return tab.evaluate(f"document.querySelector({json.dumps(selector)}).innerText")


def asked_of_library(call: Call, changed: dict[str, Any]) -> Link:
    """The same question, answered by the library alone."""
    link = next((s.link for s in call.settings if s.mode == changed.get("mode")), call.contact.link)
    you, reach = link.you, call.contact.reach
    height_m = changed.get("mast", you.height_m)
    facts = path_facts(
        assess(
            reach.survey,
            frequency_mhz=reach.frequency_mhz,
            from_antenna_agl_m=height_m,
            to_antenna_agl_m=link.them.height_m,
            polarization="horizontal" if you.polarization == "horizontal" else "vertical",
            deciding_only=True,
        )
    )
    you = replace(
        you,
        height_m=height_m,
        power_w=changed.get("power", you.power_w),
        line_loss_db=changed.get("line", you.line_loss_db),
        polarization=changed.get("polarization", you.polarization),
    )
    return evaluate(with_extra_noise(you, changed.get("noise", 0.0)), link.them, facts, spread=link.spread)


def test_quiet_and_offline(tab: Tab, page: Path) -> None:
    show(tab, page)
    type_in(tab, fix="47.75 -21.0", power=5, noise=10, mast=6, order="odds", mode="morse")
    tab.evaluate("document.getElementById('planned').click()")
    asked = [e["params"]["request"]["url"] for e in tab.events if e["method"] == "Network.requestWillBeSent"]
    assert asked == [file_url(page)]
    assert [event for event in tab.events if event["method"] in TROUBLE] == []
    assert (
        tab.evaluate("Object.keys(window).filter((name) => /figures|recalculated|inverse/.test(name))") == []
    )


def test_page_one_is_whole_without_scripts(tab: Tab, page: Path, sheet: Sheet) -> None:
    def visible() -> list[str]:
        words: str = text_of(tab, "#page-one")
        return words.split()

    show(tab, page)
    tab.evaluate("document.getElementById('live').hidden = true")
    with_scripts = visible()
    tab.command("Emulation.setScriptExecutionDisabled", value=True)
    tab.open(file_url(page))
    assert visible() == with_scripts
    assert all(call.name in text_of(tab, "#page-one") for call in sheet.calls)
    tab.command("Emulation.setScriptExecutionDisabled", value=False)


@pytest.mark.parametrize("width", [320, 360, 412, 768, 1280])
def test_nothing_to_scroll_sideways(tab: Tab, page: Path, width: int) -> None:
    show(tab, page, width, mobile=True)
    tab.evaluate("document.getElementById('live').open = true")
    type_in(tab, fix="46 -20")
    assert tab.evaluate("document.documentElement.scrollWidth") == width


def test_hostile_names_stay_text(tab: Tab, nasty_sheet: Sheet, tmp_path: Path) -> None:
    file = tmp_path / "nasty.html"
    file.write_text(sheet_html(nasty_sheet), encoding="utf-8")
    tab.command("Page.addScriptToEvaluateOnNewDocument", source="window.alert = () => { window.fooled = 1; }")
    show(tab, file, 360, mobile=True)
    type_in(tab, fix="47.75 -21.0", noise=20)
    assert tab.evaluate("window.fooled") is None
    assert tab.evaluate("document.scripts.length") == 2
    shown = tab.evaluate("[...document.querySelectorAll('.call bdi')].map((name) => name.textContent)")
    assert {call.name for call in nasty_sheet.calls} <= set(shown)
    assert tab.evaluate("document.documentElement.scrollWidth") == 360
    assert [event for event in tab.events if event["method"] in TROUBLE] == []


@pytest.mark.parametrize("changed", ALTERED, ids=lambda changed: " ".join(changed) or "as planned")
def test_recalculation_equals_the_library(
    tab: Tab, page: Path, sheet: Sheet, changed: dict[str, Any]
) -> None:
    show_plan(tab, page)
    type_in(tab, **{"power": "", **changed})
    seen = tab.evaluate(
        """Object.fromEntries([...document.querySelectorAll('tr.call')].map((row) => {
            const is = (root, name) => root.querySelector(`[data-is="${name}"]`)?.textContent;
            const path = document.querySelector(`[data-path="${row.dataset.key}"]`);
            return [row.dataset.key, {
              chance: Number(row.dataset.chance), odds: is(row, 'odds'), word: is(row, 'word'),
              you: is(row, 'you'), they: is(row, 'they'),
              out: is(path, 'out-margin'), back: is(path, 'back-margin'), noise: is(path, 'back-noise')}];
        }))"""
    )
    answers = {}
    for call in sheet.calls:
        found, link = seen[str(call.key)], asked_of_library(call, changed)
        answers[call.key] = link
        assert found["chance"] == pytest.approx(link.pair.chance, abs=2e-6)
        assert found["odds"] == odds_text(link.pair.verdict.chance).removeprefix("about ")
        assert found["word"] == link.pair.verdict.word
        for way, shown, heard in (
            (link.out, found.get("out"), "they"),
            (link.back, found.get("back"), "you"),
        ):
            assert (way is None) == (shown is None)
            if way is not None:
                margin = float(shown.replace("−", "-").removesuffix(" dB"))
                assert margin == pytest.approx(way.budget.margin_db, abs=0.0501)
                assert found[heard] == expectation(way.budget, way.sigma_db).word
        if link.back is not None:
            noise = float(found["noise"].replace("−", "-").removesuffix(" dBm"))
            assert noise == pytest.approx(link.back.budget.noise_dbm, abs=0.0501)
    order = tab.evaluate("[...document.querySelectorAll('tr.call')].map((row) => Number(row.dataset.key))")
    assert order == expected_order(sheet, answers)


def test_a_mast_between_two_stored_heights(tab: Tab, page: Path, sheet: Sheet) -> None:
    """Heights are stored every half metre; between them the margin is within the promised 0.1 dB."""
    show_plan(tab, page)
    for height_m in (1.2, 2.75, 4.75, 5.9):
        type_in(tab, mast=height_m)
        cells = tab.evaluate(
            """Object.fromEntries([...document.querySelectorAll('.path')].flatMap((path) =>
            ['out', 'back'].map((way) => [path.dataset.path + way,
            path.querySelector(`[data-is=${way}-margin]`)?.textContent])))"""
        )
        for call in sheet.calls:
            link = asked_of_library(call, {"mast": height_m})
            for way, name in ((link.out, "out"), (link.back, "back")):
                if way is not None:
                    shown = cells[f"{call.key}{name}"]
                    margin = float(shown.replace("−", "-").removesuffix(" dB"))
                    assert margin == pytest.approx(way.budget.margin_db, abs=0.1 + 0.05)


@pytest.mark.parametrize("changed", [{"power": 100.0}, {"line": 0.0}, {"power": 2.0, "line": 6.0}])
def test_the_distance_to_keep_follows_the_power(
    tab: Tab, page: Path, sheet: Sheet, changed: dict[str, Any]
) -> None:
    show_plan(tab, page)
    planned = text_of(tab, "#keep")
    type_in(tab, **changed)
    keep_m = 0.0
    for call, mode in itertools.product(sheet.calls, MODES):
        end = equip(call.contact.you.station, call.contact.link.frequency_mhz, mode)
        if isinstance(end, End) and call.they_hear is not None:
            louder = replace(
                end,
                power_w=changed.get("power", end.power_w),
                line_loss_db=changed.get("line", end.line_loss_db),
            )
            keep_m = max(keep_m, exposure(louder).keep_m or 0.0)
    assert text_of(tab, "#keep").startswith(f"Keep {math.ceil(keep_m * 10.0 - 1e-6) / 10.0:.1f} m from")
    type_in(tab, **dict.fromkeys(changed, ""))
    assert text_of(tab, "#keep") == planned


def expected_order(sheet: Sheet, answers: dict[int, Link]) -> list[int]:
    windows = {call.key: tuple(w[:2] for w in call.windows) for call in sheet.calls}
    contacts = {call.key: call.contact for call in sheet.calls}
    calls = [
        ToCall(
            answers[key].pair.chance,
            contacts[key].reach.leg.azimuth_deg,
            answers[key].you.polarization,
            answers[key].them.receive_only,
            windows[key],
            answers[key].second.chance if answers[key].methods_part else None,
        )
        for key in sorted(answers)
    ]
    placed, _ = call_order(calls)
    return [place.index for place in placed]


def test_headings_are_the_same_when_written_by_the_script(tab: Tab, page: Path) -> None:
    headings = "[...document.querySelectorAll('#calls .group')].map((row) => row.className + row.innerText)"
    show(tab, page)
    before = tab.evaluate(headings)
    words = text_of(tab, ".ladder")
    type_in(tab, power="")
    assert tab.evaluate(headings) == before
    assert text_of(tab, ".ladder") == words
    assert len(before) >= 3


def test_untouched_rows_are_the_same_when_written_by_the_script(tab: Tab, page: Path) -> None:
    show(tab, page)
    cells = "document.getElementById('calls').innerText + document.getElementById('paths').innerText"
    before = tab.evaluate(cells)
    type_in(tab, power="")
    assert tab.evaluate(cells) == before


FIXES = [(47.7496, -21.0008), (47.9, -20.6), (47.31, -21.05), (47.74833, -21.00083)]


@pytest.mark.parametrize(("latitude", "longitude"), FIXES)
def test_a_fix_gives_new_azimuths_and_distances(
    tab: Tab, page: Path, sheet: Sheet, latitude: float, longitude: float
) -> None:
    show_plan(tab, page)
    type_in(tab, fix=f"{latitude} {longitude}")
    rows = tab.evaluate(
        "[...document.querySelectorAll('tr.call')].map((row) => [Number(row.dataset.key), "
        "Number(row.dataset.azimuth), Number(row.dataset.distance), "
        "row.querySelector('[data-is=magnetic]').textContent])"
    )
    calls = {call.key: call for call in sheet.calls}
    for key, azimuth, distance, magnetic in rows:
        leg = inverse(latitude, longitude, calls[key].latitude_deg, calls[key].longitude_deg)
        assert abs((azimuth - leg.azimuth_deg + 180.0) % 360.0 - 180.0) < 1e-6
        assert distance == pytest.approx(leg.distance_m, rel=1e-6)
        wanted = magnetic_azimuth_deg(leg.azimuth_deg, sheet.site.declination_deg)
        assert abs((float(magnetic) - wanted + 180.0) % 360.0 - 180.0) <= 0.51


def test_far_from_the_planned_spot_it_is_said(tab: Tab, page: Path, sheet: Sheet) -> None:
    show(tab, page)
    type_in(tab, fix=f"{sheet.site.latitude_deg + 0.0001:.5f} {sheet.site.longitude_deg:.5f}")
    assert text_of(tab, "#altered") == "You are at the planned spot (11 m off): azimuths updated."
    type_in(tab, fix="47.7496 -21.0008")
    away = inverse(47.7496, -21.0008, sheet.site.latitude_deg, sheet.site.longitude_deg).distance_m
    assert away > sheet.site.cell_m
    assert text_of(tab, "#altered") == (
        f"You are {away:.0f} m from the planned spot: azimuths updated, "
        "strengths are still for the planned spot."
    )
    assert text_of(tab, ".read").startswith(
        "Emergency call, position to read out (your fix): 47°44.98'N 21°00.05'W"
    )
    type_in(tab, fix="upstairs")
    assert "cannot be read" in text_of(tab, "#altered")
    type_in(tab, fix="", power="much")
    assert "Power, W: not understood, the plan is kept." in text_of(tab, "#altered")


def test_a_fix_far_off_is_not_read_out(tab: Tab, page: Path, sheet: Sheet) -> None:
    """A slip, such as longitude before latitude, leaves position and azimuths as planned."""
    show(tab, page)
    planned = "document.querySelector('header').innerText + document.getElementById('calls').innerText"
    before = tab.evaluate(planned)
    site = sheet.site
    for fix, swapped in (
        ("-21.012 47.741", (47.741, -21.012)),
        ("47.74833 21.00083", None),
        ("-40.0 150.0", None),
    ):
        type_in(tab, fix=fix)
        latitude, longitude = map(float, fix.split())
        away_km = inverse(latitude, longitude, site.latitude_deg, site.longitude_deg).distance_m / 1000.0
        told = text_of(tab, "#altered")
        assert told.startswith(
            f"That fix is {away_km:.0f} km from the planned spot, more than 50 km: it is not taken"
        )
        assert tab.evaluate(planned) == before
        assert tab.evaluate("document.getElementById('fix').getAttribute('aria-invalid')") == "true"
        if swapped is None:
            assert "Swapped" not in told
        else:
            near_m = inverse(*swapped, site.latitude_deg, site.longitude_deg).distance_m
            assert f"Swapped it would be {near_m / 1000.0:.1f} km from the planned spot" in told
    type_in(tab, fix="47.741 -21.012")
    assert "azimuths updated" in text_of(tab, "#altered")
    assert tab.evaluate(planned) != before


def test_a_handheld_keeps_its_height(tab: Tab, page: Path, tmp_path: Path, sheet: Sheet) -> None:
    gateway = next(call for call in sheet.calls if call.name == "Ravel Gap gateway")
    (one,) = gateway.settings
    link = replace(one.link, you=replace(one.link.you, handheld=True))
    held = replace(gateway, settings=(replace(one, link=link),))
    calls = tuple(held if call is gateway else call for call in sheet.calls)
    file = tmp_path / "held.html"
    file.write_text(sheet_html(replace(sheet, calls=calls)), encoding="utf-8")
    margin = f'[data-path="{gateway.key}"] [data-is=back-margin]'
    planned = f"{gateway.contact.link.back.budget.margin_db:+.1f} dB"
    for shown, keeps in ((page, False), (file, True)):
        show(tab, shown)
        type_in(tab, mast=1.5)
        assert (text_of(tab, margin) == planned) is keeps
        assert ("mast 1.5 m (a handheld keeps its height)" in text_of(tab, "#altered")) is keeps


@pytest.mark.parametrize("azimuth_deg", [0, 3, 352, 200])
def test_no_letter_of_the_ring_covers_another(
    tab: Tab, tmp_path: Path, sheet: Sheet, azimuth_deg: float
) -> None:
    beams = tuple(
        replace(sheet.beams[0], azimuth_deg=(azimuth_deg + step) % 360.0, keys=(sheet.calls[0].key,))
        for step in (0.0, 10.0)
    )
    file = tmp_path / "ring.html"
    file.write_text(sheet_html(replace(sheet, beams=beams)), encoding="utf-8")
    show(tab, file, 390, mobile=True)
    boxes = tab.evaluate(
        "[...document.querySelectorAll('.ring text, .ring .north')]"
        ".map((part) => part.getBoundingClientRect().toJSON())"
    )
    assert len(boxes) == 4
    for one, other in itertools.combinations(boxes, 2):
        across = min(one["right"], other["right"]) - max(one["left"], other["left"])
        down = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
        assert min(across, down) <= 0.0


def scripts(tab: Tab, *names: str) -> None:
    """Load parts of the page's script by themselves."""
    tab.open("about:blank")
    for name in names:
        tab.evaluate(resources.files("pathprofile.export.sheet").joinpath(name).read_text(encoding="utf-8"))


def test_every_notation_is_read_as_the_library_reads_it(tab: Tab) -> None:
    scripts(tab, "geodesy.js")
    places = [
        (47.74833, -21.00083),
        (-33.9249, 18.4241),
        (60.1, 5.3),
        (0.0004, -0.0003),
        (78.2, 15.6),
        (35.68, 139.7),
    ]
    texts = [
        text
        for place in places
        for text in notations(parse_location(f"{place[0]:.5f} {place[1]:.5f}")).values()
    ]
    texts += [
        "47°44.9'N 21°00.05'W",
        "N 47° 44' 54\" W 21° 0' 3\"",
        "47 44 54 N, 21 0 3 W",
        "47,74833 -21,00083",
        "−33.9 18.4",
        "47.74833N 21.00083W",
        "hn97lr",
        "HN97",
        "27T 499938 5288269",
        "33X VG 1234 5678",
    ]
    wrong = []
    for text in texts:
        try:
            place = parse_location(text)
        except LocationError:
            wrong.append(text)
            continue
        read = tab.evaluate(f"readPlace({json.dumps(text)})")
        assert read is not None, text
        off = math.hypot(read[0] - place.latitude_deg, read[1] - place.longitude_deg)
        assert off < max(1e-6, 0.1 * place.uncertainty_m / 111e3), text
    assert wrong == []


@pytest.mark.parametrize(
    "text",
    [
        "",
        "upstairs",
        "91 0",
        "47 61 0 N 21 0 0 W",
        "47 N 21 N",
        "HN9",
        "47.7",
        "1 2 3",
        "99X VG 1234 5678",
        "<b>",
    ],
)
def test_what_is_no_place_is_not_read(tab: Tab, text: str) -> None:
    scripts(tab, "geodesy.js")
    assert tab.evaluate(f"readPlace({json.dumps(text)})") is None


def test_positions_are_written_as_the_library_writes_them(tab: Tab) -> None:
    scripts(tab, "geodesy.js")
    for latitude, longitude in ((47.74833, -21.00083), (-33.9249, 18.4241), (5.99999, 179.99999)):
        written = notations(replace(parse_location(f"{latitude} {longitude}"), uncertainty_m=10.0))
        assert tab.evaluate(f"writeMinutes({latitude}, {longitude})") == written["degrees and minutes"]
        assert tab.evaluate(f"locator({latitude}, {longitude}, 8)") == written["locator (8 characters)"]


def test_chance_is_the_librarys_node_for_node(tab: Tab) -> None:
    scripts(tab, "chance.js")
    angle, time = (np.transpose(np.polynomial.legendre.leggauss(n)).tolist() for n in (24, 14))
    losses = {1.0: 140.0, 10.0: 148.0, 50.0: 156.0, 90.0: 161.0}
    deviates = [-2.3263478740408408, -1.2815515655446004, 0.0, 1.2815515655446004]  # normal tables
    for out, back, spread in itertools.product(
        (-25.0, 0.0, 12.5, 60.0), (-10.0, 3.0, 30.0), (Spread(8, 6, 3), Spread(8, 0.3, 6), Spread(0, 6, 6))
    ):
        library = pair_chances([(out, back)], spread, time_spread(losses))
        sizes = {"shared": spread.shared_db, "out": spread.out_db, "back": spread.back_db}
        found = tab.evaluate(
            f"chances({out}, {back}, {json.dumps(sizes)}, "
            f"timeSpread({deviates}, {list(losses.values())}, 2, {time}), {angle})"
        )
        assert found["pair"] == pytest.approx(float(library.both[0]), abs=1e-9)
        assert found["out"] == pytest.approx(float(library.out[0]), abs=1e-9)


def test_order_is_the_librarys_on_drawn_days(tab: Tab) -> None:
    scripts(tab, "geodesy.js", "order.js")
    random = np.random.default_rng(6)
    limits = {"easy": 0.9, "workable": 0.7, "marginal": 0.3}
    for _ in range(60):
        calls = [
            ToCall(
                round(float(random.uniform()) ** 0.5, 3),
                round(float(random.uniform(0.0, 360.0)), 2),
                ("horizontal", "vertical", "circular")[int(random.integers(3))],
                bool(random.uniform() < 0.2),
                tuple(
                    sorted(
                        (int(start), int(start + 120))
                        for start in random.integers(0, 1200, random.integers(3))
                    )
                ),
                round(float(random.uniform()) ** 0.5, 3) if random.uniform() < 0.4 else None,
            )
            for _ in range(int(random.integers(1, 12)))
        ]
        for order in ("sweep", "odds"):
            placed, _ = call_order(calls, order)  # type: ignore[arg-type]
            theirs = [
                {"key": key, "chance": c.chance, "azimuth": c.azimuth_deg, "polarization": c.polarization,
                 "receiveOnly": c.receive_only, "windows": c.windows,
                 "second": None if c.second_chance is None else {"word": "", "chance": c.second_chance}}
                for key, c in enumerate(calls)
            ]  # fmt: skip
            found = tab.evaluate(f"callOrder({json.dumps(theirs)}, '{order}', {json.dumps(limits)})")
            assert [
                (f["index"], f["part"], f["sweep"], f["turning"], f["together"] and tuple(f["together"]))
                for f in found
            ] == [(p.index, p.part, p.sweep, p.turning, p.together_min) for p in placed]


def test_a_finger_on_the_profile_reads_it_out(tab: Tab, page: Path, sheet: Sheet) -> None:
    show(tab, page, 360, mobile=True)
    tab.command("Emulation.setTouchEmulationEnabled", enabled=True)
    path = sheet.paths[0]
    where = f'.profile[data-profile="{path.key}"]'
    tab.evaluate(f"document.querySelector('{where}').scrollIntoView({{block: 'center'}})")
    box = tab.evaluate(f"document.querySelector('{where}').getBoundingClientRect().toJSON()")
    for share in (0.25, 0.6):
        x, y = box["x"] + box["width"] * (14 + 452 * share) / 480, box["y"] + box["height"] / 2
        tab.command("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        tab.command("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        shown = text_of(tab, f'[data-readout="{path.key}"]')
        distance = path.profile.distance_m
        index = int(np.argmin(np.abs(distance - share * distance[-1])))
        around = [
            f"{distance[i] / 1000:.1f} km: ground {path.profile.ground_m[i]:.0f} m, "
            f"{abs(round(path.profile.clearance_m[i]))} m "
            f"{'below' if path.profile.clearance_m[i] >= 0 else 'above'} the line"
            for i in (index - 1, index, index + 1)
        ]
        assert shown in around
    assert tab.evaluate(f"document.querySelector('{where} .finger').getAttribute('visibility')") == "visible"
    tab.command("Emulation.setTouchEmulationEnabled", enabled=False)


def test_arrow_keys_walk_along_the_profile(tab: Tab, page: Path, sheet: Sheet) -> None:
    show(tab, page)
    path = sheet.paths[0]
    tab.evaluate(
        f"document.querySelector('.profile[data-profile=\"{path.key}\"]')"
        ".dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight'}))"
    )
    at = path.profile.distance_m[path.profile.limiting + 1]
    assert text_of(tab, f'[data-readout="{path.key}"]').startswith(f"{at / 1000:.1f} km: ")


def test_notes_typed_survive_a_new_order(tab: Tab, page: Path) -> None:
    show(tab, page)
    tab.evaluate("document.querySelector('[data-log]').value = '18:10 S7'")
    type_in(tab, order="odds", noise=20)
    assert (
        tab.evaluate("[...document.querySelectorAll('[data-log]')].map((f) => f.value)").count("18:10 S7")
        == 1
    )


def test_back_to_the_plan(tab: Tab, page: Path) -> None:
    show(tab, page)
    before = text_of(tab, "#page-one")
    type_in(tab, fix="47.9 -20.2", noise=20, order="odds", mode="morse", mast=6)
    assert text_of(tab, "#page-one") != before
    tab.evaluate("document.getElementById('planned').click()")
    assert text_of(tab, "#page-one") == before


PAPER_PX = {"a4": (190.0, 276.0), "letter": (195.9, 258.4)}
"""Paper less the margins of page.css [mm]."""


@pytest.mark.parametrize("paper", PAPER_PX)
@pytest.mark.parametrize("count", [1, 5, 20])
def test_page_one_fits_its_paper(
    tab: Tab,
    make_sheet: Callable[..., Sheet],
    sample_contacts: tuple[Contact, ...],
    tmp_path: Path,
    paper: str,
    count: int,
) -> None:
    sheet = make_sheet((sample_contacts * 4)[:count])
    file = tmp_path / "trip.html"
    file.write_text(sheet_html(sheet), encoding="utf-8")
    width, height = (size * 96.0 / 25.4 for size in PAPER_PX[paper])
    show(tab, file, round(width))
    tab.command("Emulation.setEmulatedMedia", media="print")
    assert tab.evaluate("document.getElementById('page-one').getBoundingClientRect().height") <= height
    assert tab.evaluate("document.documentElement.scrollWidth") <= round(width)
    tallest = (
        "Math.max(...[...document.querySelectorAll('.path')].map((p) => p.getBoundingClientRect().height))"
    )
    assert tab.evaluate(tallest) <= height
    assert tab.evaluate("getComputedStyle(document.querySelector('.path')).breakInside") == "avoid"
    # Four paths to a page of A4, what stands between them counted, so that eleven calls end on page four.
    heights = tab.evaluate(
        "[...document.querySelectorAll('.path')].map((p) => p.getBoundingClientRect().height)"
    )
    assert paper != "a4" or 4.0 * (np.mean(heights) + 12.0) <= height
    # Nothing sticks out of the columns.
    assert (
        tab.evaluate(
            "[...document.querySelectorAll('.path table')].filter((t) => t.getBoundingClientRect().right > "
            "document.querySelector('main').getBoundingClientRect().right + 1).length"
        )
        == 0
    )


@pytest.mark.parametrize("paper", PAPER_PX)
def test_printed_page_one_is_whole(tab: Tab, sheet: Sheet, tmp_path: Path, paper: str) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext (poppler-utils) to read a printed page with")
    file = tmp_path / "trip.pdf"
    write_sheet(sheet, file, paper=paper)  # type: ignore[arg-type]
    pages = subprocess.run(
        ["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True
    ).stdout.split("\f")
    assert all(call.name in pages[0] for call in sheet.calls)
    assert re.search(r"pathprofile\s+0\.", pages[0])  # the last words of page one
    assert "One change" not in pages[0]
    # A path's heading, its picture's caption and its table of changes stand on one page.
    for call in sheet.calls:
        (text,) = [text for text in pages[1:] if call.contact.link.who_hears_whom[:40] in text]
        part = text[text.index(call.contact.link.who_hears_whom[:40]) :]
        for asked in ("above just readable", "One change", "km: ground", "Mode"):
            assert asked in part


def test_pictures_are_written(tab: Tab, sheet: Sheet, tmp_path: Path) -> None:
    write_sheet(sheet, tmp_path / "trip.png")
    data = (tmp_path / "trip.png").read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"  # PNG specification, §5.2
    width, height = struct.unpack(">II", data[16:24])
    assert width == 1080
    assert height > width


def test_both_verdicts_stay_where_the_methods_part(
    tab: Tab, make_sheet: Callable[..., Sheet], sample_contacts: tuple[Contact, ...], tmp_path: Path
) -> None:
    one = sample_contacts[0]
    loss = one.reach.loss
    methods = {**loss.methods, loss.second_opinion: loss.loss_db + 38.0}
    reach = replace(one.reach, loss=replace(loss, methods=methods))
    link = evaluate(one.link.you, one.link.them, path_facts(reach), spread=one.link.spread)
    made = make_sheet((replace(one, reach=reach, link=link), *sample_contacts[1:]))
    call = next(call for call in made.calls if call.name == one.them.station.name)
    file = tmp_path / "parted.html"
    file.write_text(sheet_html(made), encoding="utf-8")
    show(tab, file, 390, mobile=True)
    odds, path = f'tr.call[data-key="{call.key}"] .odds', f'[data-path="{call.key}"] h2'
    before = text_of(tab, odds), text_of(tab, path)
    assert "or below 1 in 20: methods part by 38 dB" in before[0]
    assert before[0].split("\n")[-1].startswith(f"{link.pair.verdict.word} or unlikely")
    assert link.verdict_text in before[1]
    type_in(tab, power="")
    assert (text_of(tab, odds), text_of(tab, path)) == before
    type_in(tab, power=2.0)
    assert "or below 1 in 20: methods part by 38 dB" in text_of(tab, odds)
    other = next(each for each in made.calls if not each.contact.link.methods_part)
    assert "part" not in text_of(tab, f'tr.call[data-key="{other.key}"] .odds')


def test_an_area_keeps_its_odds_until_something_is_altered(
    tab: Tab, make_sheet: Callable[..., Sheet], sample_contacts: tuple[Contact, ...], tmp_path: Path
) -> None:
    one = sample_contacts[0]
    cell = parse_location("HN96MH", label=one.them.station.name)
    told = replace(one, them=replace(one.them, location=cell))
    low, high = (SimpleNamespace(pair=Pair(chance, 0.1, verdict(chance, 0.1))) for chance in (0.2, 0.8))
    over = SimpleNamespace(lowest=low, highest=high)
    made = make_sheet((told, *sample_contacts[1:]), areas={one.them.station.name: over})
    call = next(call for call in made.calls if call.area)
    file = tmp_path / "area.html"
    file.write_text(sheet_html(made), encoding="utf-8")
    show(tab, file)
    row = f'tr.call[data-key="{call.key}"]'
    type_in(tab, power="")
    assert text_of(tab, f"{row} .who").replace("\n", " ").startswith(f"{call.name} (a cell!)")
    assert " ".join(text_of(tab, f'{row} [data-is="odds"]').split()) == "low 2/10 high 8/10"
    type_in(tab, noise=6)
    assert "low" not in text_of(tab, f'{row} [data-is="odds"]')
    assert text_of(tab, f'{row} [data-is="word"]').endswith(", at its typical point")
    tab.evaluate("document.getElementById('planned').click()")
    assert " ".join(text_of(tab, f'{row} [data-is="odds"]').split()) == "low 2/10 high 8/10"
