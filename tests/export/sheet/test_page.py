"""The page as text: nothing from outside, nothing unescaped, everything of the model on it."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import math
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from pathprofile.errors import OutputError
from pathprofile.export.sheet import sheet_html, write_sheet, writing
from pathprofile.export.sheet.fitting import SIZES_PT, fit_page_one
from pathprofile.export.sheet.page_one import page_one_values
from pathprofile.export.sheet.words import NO_FREQUENCY, frequency, odds_steps, planned_frequency, signed
from pathprofile.geodesy import sunset_utc
from pathprofile.trip.sheet import Move

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from pathprofile.contact import Contact
    from pathprofile.trip.sheet import Sheet


class Elements(HTMLParser):
    """Every tag with its attributes, and what stands in style and script elements."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[tuple[str, str]] = []
        self._last = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._last = tag
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self._last in {"script", "style"} and data.strip():
            self.inside.append((self._last, data))


def page_one(text: str) -> str:
    """Words of page one, tags and doubled spaces taken out."""
    section = text[text.index('<section id="page-one">') : text.index('<div id="paths">')]
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", section)).split())


def test_no_reference_leaves_the_file(sheet: Sheet) -> None:
    text = sheet_html(sheet)
    for tag, attributes in Elements(text).tags:
        assert tag not in {"link", "img", "iframe", "object", "embed", "base", "form", "a", "use"}
        assert not {"src", "href", "action", "style", "srcset", "background"} & set(attributes)
        assert not any(name.startswith("on") for name in attributes)
    assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import", text.partition("</style>")[0])
    assert "default-src 'none'" in text


def test_policy_names_the_very_style_and_script(sheet: Sheet) -> None:
    """W3C Content Security Policy 3, §2.3.1: SHA-256 of the element's text, in base64."""
    found = Elements(sheet_html(sheet))
    policy = next(a["content"] for _, a in found.tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    texts = {"style": found.inside[0][1], "script": found.inside[-1][1]}
    for kind, text in texts.items():
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy


def test_page_one_says_everything(sheet: Sheet) -> None:
    words = page_one(sheet_html(sheet))
    site = sheet.site
    for _, text in site.read_out:
        assert text in words
    sunset = sunset_utc(site.latitude_deg, site.longitude_deg, sheet.date)
    assert sunset is not None
    assert f"= {sunset:%H:%M} UTC" in words
    assert "UTC = local + 1 h" in words
    assert f"declination {signed(site.declination_deg, 1)}°" in words
    for call in sheet.calls:
        assert call.name in words
        assert frequency(call.listen_mhz) in words
        assert f"{call.magnetic_azimuth_deg:03.0f} / {call.azimuth_deg:03.0f}" in words
        assert call.odds.removeprefix("about ") in words
        for heard in (call.you_hear, call.they_hear):
            assert heard is None or heard.word in words
    for asked in ("send 145.000 (+0.6)", "tone 88.5", "to RAVEL-7", "17–19 local = 18–20 UTC", "listen only"):
        assert asked.replace("+0.6", "−0.6") in words
    for caution in (*sheet.cautions, sheet.conditional, "Step 5 m from car and mast"):
        assert caution in words
    assert "never look at the Sun" in words
    # 47 CFR 1.1310 at 144 MHz: 2 W/m²; OET Bulletin 65 §2. 15 s digital and FM send all the time, duty 1.
    for one in sheet.exposure:
        keep_m = math.ceil(math.sqrt(2.56 * one.eirp_w / (4.0 * math.pi * 2.0)) * 10.0) / 10.0
        assert (
            f"Keep {keep_m:.1f} m from the {one.antenna} at {one.power_w:g} W: enough for every mode" in words
        )
    assert len(sheet.exposure) == 2
    assert "Emergency call. Local emergency number first" in words
    assert "Emergency call, position to read out (planned spot):" in words
    assert "ice and loose parts fall" in words
    assert "Visitors: keep them outside that distance" in words
    assert "Listen for it first: heard as predicted, your antenna, line and receiver work." in words
    assert "ITU-R P.1812-8" in words
    assert "WMM" in words
    assert "High Hallow" in words
    assert "Skerrow Hill (no digital voice on 70 cm at Gull Tor)" in words


def test_what_follows_page_one(sheet: Sheet) -> None:
    text = sheet_html(sheet)
    after = text[text.index('<div id="paths">') :]
    assert after.count('<svg class="profile"') == len(sheet.calls)
    bullets = re.findall(r"<li>(.)", after.partition("<script")[0])
    assert bullets
    assert not any(letter.islower() for letter in bullets)
    for heading in (
        "Relays",
        "Other spots",
        "Next-best stations",
        "What this stands on",
        "One change",
        "Mode, usual MHz",
    ):
        assert f">{heading}</" in after


def test_text_from_users_is_escaped(nasty_sheet: Sheet) -> None:
    text = sheet_html(nasty_sheet)
    found = Elements(text)
    scripts = [attributes for tag, attributes in found.tags if tag == "script"]
    assert scripts == [{"type": "application/json", "id": "figures"}, {}]
    assert "alert(1)" not in found.inside[-1][1]
    figures = next(data for tag, data in found.inside if tag == "script")
    assert "<" not in figures
    assert json.loads(figures)["calls"][0]["name"].endswith("<script>alert(1)</script>\"'&\u202eב🗼")
    assert "&lt;script&gt;alert(1)&lt;/script&gt;&#34;&#39;&amp;" in text


def test_letters_that_no_file_can_hold(make_sheet: Callable[..., Sheet], tmp_path: Path) -> None:
    sheet = make_sheet(left_out=[("nul\x00bell\x07 lone \ud800", "two\nlines")])
    write_sheet(sheet, tmp_path / "trip.html")
    assert "nul\ufffdbell\ufffd lone \ufffd" in (tmp_path / "trip.html").read_text(encoding="utf-8")


def test_odds_order_has_no_headings(make_sheet: Callable[..., Sheet]) -> None:
    sheet = make_sheet(order="odds")
    assert [call.chance for call in sheet.calls] == sorted((c.chance for c in sheet.calls), reverse=True)
    assert 'class="group' not in sheet_html(sheet).partition("</style>")[2].partition("<script")[0]


def test_one_lone_call_makes_a_sheet(
    make_sheet: Callable[..., Sheet], sample_contacts: tuple[Contact, ...]
) -> None:
    words = page_one(sheet_html(make_sheet(sample_contacts[1:2], landmarks=(), moves=(), relays=())))
    assert "HORIZONTAL first" in words
    assert "another spot; ask whoever you do hear to relay" in words
    assert "listen only" in words


def test_many_calls_go_on_behind_page_one(
    make_sheet: Callable[..., Sheet], sample_contacts: tuple[Contact, ...]
) -> None:
    sheet = make_sheet(sample_contacts * 4)
    values = page_one_values(sheet)
    assert 1 < len(values["rows"]) <= 12
    assert len(values["rows"]) + len(values["more_rows"]) == 20
    assert f"{len(values['more_rows'])} more on the next page." in sheet_html(sheet)


def test_type_shrinks_with_what_page_one_holds(
    make_sheet: Callable[..., Sheet], sample_contacts: tuple[Contact, ...]
) -> None:
    sizes = [fit_page_one(page_one_values(make_sheet(sample_contacts[:n]))).size for n in range(1, 6)]
    assert sizes == sorted(sizes)
    assert max(sizes) < len(SIZES_PT)


def test_words() -> None:
    assert odds_steps(["8 in 10", "6 in 10"]) == "8 → 6 in 10"
    assert odds_steps(["over 19 in 20", "6 in 10"]) == "over 19 in 20 → 6 in 10"
    assert [frequency(mhz) for mhz in (145.0, 144.4375, 433.5)] == ["145.000", "144.4375", "433.500"]


def test_refusals(sheet: Sheet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(OutputError, match=r"'.*trip\.doc': give a name that ends in \.html, \.pdf or"):
        write_sheet(sheet, tmp_path / "trip.doc")
    with pytest.raises(OutputError, match=r"paper 'a3': accepted a4 or letter"):
        write_sheet(sheet, tmp_path / "trip.pdf", paper="a3")  # type: ignore[arg-type]
    monkeypatch.setattr(writing, "find_browser", lambda: None)
    with pytest.raises(OutputError, match=r"none was found; install chromium, or write \.html"):
        write_sheet(sheet, tmp_path / "trip.pdf")
    assert list(tmp_path.iterdir()) == []


def test_forty_stations_left_out_leave_page_one_alone(make_sheet: Callable[..., Sheet]) -> None:
    reason = (
        "no mode wanted in common: Gull Tor has SSB, Morse on 2 m; it has narrow FM on 70 cm and on 23 cm"
    )
    left_out = [(f"Relay {number:02d}", reason) for number in range(40)]
    few, many = (page_one_values(make_sheet(left_out=left_out[:count])) for count in (3, 40))
    assert many["size"] == few["size"]
    assert len(many["rows"]) == len(few["rows"])
    text = sheet_html(make_sheet(left_out=left_out))
    first, _, rest = text.partition("</section>")
    assert "And 37 more: the rest on page two." in first
    assert "Relay 02" in first
    assert "Relay 03" not in first
    assert "Relay 39" in rest
    assert "Relay 39" not in sheet_html(make_sheet(left_out=left_out[:3]))


def test_stated_hours_are_not_put_on_those_without(sheet: Sheet) -> None:
    headings = " ".join(item["heading"] for item in page_one_values(sheet)["rows"]).lower()
    assert "those with stated hours listen 1" in headings
    assert "all listen" not in sheet_html(sheet)


def test_the_ladder_names_one_spot_a_station_and_none_for_an_easy_one(
    make_sheet: Callable[..., Sheet], sheet: Sheet
) -> None:
    def spot_for(word: str, moves: list[Move]) -> str:
        keys = [call.key for call in sheet.calls if (call.chance >= 0.9) == (word == "easy")]
        spot = replace(
            sheet.paths[0].changes.ranked[0], what="191 m W", gain_db=9.0, note="terrain only; not checked"
        )
        paths = tuple(
            replace(path, changes=replace(path.changes, ranked=(spot,) if path.key == keys[0] else ()))
            for path in sheet.paths
        )
        return str(page_one_values(replace(make_sheet(moves=moves), paths=paths))["neither"])

    hard = next(call.name for call in sheet.calls if call.chance < 0.9)
    easy = next(call.name for call in sheet.calls if call.chance >= 0.9)
    assert f"move to 191 m W (+9 dB to {hard}; terrain only" in spot_for("hard", [])
    assert "191 m W" not in spot_for("easy", [])
    there = Move("156 m SW", 47.7, -21.0, hard, 12.0, None, "terrain only; not checked")
    both = spot_for("hard", [there, there._replace(name="12 m N", gain_db=2.0)])
    assert both.startswith(f"move to 156 m SW (+12 dB to {hard}; terrain only; not checked)")
    assert "191 m" not in both
    assert "12 m N" not in both
    assert "156 m SW" not in spot_for("easy", [there._replace(station=easy)])


# Below 144.5 MHz is the narrow-band part of 2 m, 145.5 MHz in the FM part (IARU Region 1 VHF band plan).
def test_a_frequency_that_nobody_stated_fits_the_mode() -> None:
    assert planned_frequency(144.3, "ssb") == "≈144.300"
    assert planned_frequency(145.5, "fm") == "≈145.500"
    for frequency_mhz, mode in ((144.3, "fm"), (144.3, "packet-1200"), (145.5, "ssb"), (145.5, "morse")):
        assert planned_frequency(frequency_mhz, mode) == NO_FREQUENCY


def test_no_row_gives_an_ssb_frequency_to_fm(make_sheet: Callable[..., Sheet]) -> None:
    sheet = make_sheet()
    sheet = replace(
        sheet,
        calls=tuple(replace(call, listen_mhz=144.3, frequency_stated=False) for call in sheet.calls),
    )
    shown = {item["call"]["mode"]: item["call"]["frequency"] for item in page_one_values(sheet)["rows"]}
    assert shown["SSB"] == "≈144.300"
    assert shown["FM"] == NO_FREQUENCY
