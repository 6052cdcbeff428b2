"""What the page's script needs, as one JSON text that is safe inside a page."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile.export.sheet.words import area_odds, offset_minutes, planned_frequency
from pathprofile.link.evaluate import PARTING_DB
from pathprofile.link.modes import FM_VOICE
from pathprofile.link.words import MARGINAL_FROM, SOLID_FROM, WORKABLE_FROM
from pathprofile.trip.sheet_order import EASY_FROM

if TYPE_CHECKING:
    from pathprofile.link.evaluate import Link
    from pathprofile.trip.sheet import Sheet
    from pathprofile.trip.sheet_calls import Call
    from pathprofile.trip.sheet_figures import Setting
    from pathprofile.trip.sheet_profile import SheetProfile

__all__ = ["live_json"]

_UNSAFE = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}
_ANGLE_NODES = 24  # as `pathprofile.link.chance`
_TIME_NODES = 14


def live_json(sheet: Sheet) -> str:
    """Figures of a sheet for its script; holds no character that could end a script element."""
    document: dict[str, Any] = {
        "site": {
            "latitude": sheet.site.latitude_deg,
            "longitude": sheet.site.longitude_deg,
            "cell": round(sheet.site.cell_m, 1),
            "declination": sheet.site.declination_deg,
        },
        "order": sheet.order,
        "offset": offset_minutes(sheet),
        "limits": {
            "solid": SOLID_FROM,
            "workable": WORKABLE_FROM,
            "marginal": MARGINAL_FROM,
            "easy": EASY_FROM,
            "parting": PARTING_DB,
        },
        "angle": _nodes(_ANGLE_NODES),
        "time": _nodes(_TIME_NODES),
        "calls": [_call(call) for call in sheet.calls],
        "keeps": [
            {"power": one.power_w, "line": one.line_loss_db, "keep": one.keep_m}
            for one in sheet.keeps
            if one.keep_m is not None
        ],
        "beams": [
            {"azimuth": beam.azimuth_deg, "keys": list(beam.keys), "within": beam.within_deg}
            for beam in sheet.beams
        ],
        "landmarks": [
            {"latitude": mark.latitude_deg, "longitude": mark.longitude_deg} for mark in sheet.landmarks
        ],
        "profiles": {str(path.key): _profile(path.profile) for path in sheet.paths},
    }
    text = json.dumps(_rounded(document), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for character, escape in _UNSAFE.items():
        text = text.replace(character, escape)
    return text


def _nodes(count: int) -> list[list[float]]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return [list(pair) for pair in zip(nodes.tolist(), weights.tolist(), strict=True)]


def _call(call: Call) -> dict[str, Any]:
    return {
        "key": call.key,
        "name": call.name,
        "latitude": call.latitude_deg,
        "longitude": call.longitude_deg,
        "azimuth": call.azimuth_deg,
        "distance": call.distance_m,
        "receiveOnly": call.receive_only,
        "area": None
        if call.area is None
        else {
            "chance": call.chance,
            "word": call.verdict.word,
            "odds": area_odds(call.area),
            **_second(call.contact.link),
        },
        "windows": [[window.start_min, window.end_min] for window in call.windows],
        "frequencies": None
        if call.frequency_stated or call.listen_mhz is None
        else {setting.mode: planned_frequency(call.listen_mhz, setting.mode) for setting in call.settings},
        "settings": [_setting(setting) for setting in call.settings],
    }


def _second(link: Link) -> dict[str, Any]:
    """Verdict by the second opinion where the methods part."""
    if not link.methods_part or link.second is None or link.disagreement_db is None:
        return {"second": None, "apart": 0.0}
    verdict = link.second.verdict
    return {"second": {"word": verdict.word, "chance": verdict.chance}, "apart": abs(link.disagreement_db)}


def _setting(setting: Setting) -> dict[str, Any]:
    return {
        "mode": setting.mode,
        "label": setting.label,
        "polarization": setting.polarization,
        "power": setting.power_w,
        "line": setting.line_loss_db,
        "figure": setting.noise_figure_db,
        "noise": setting.noise_kind,
        "outside": setting.outside_db,
        "yourNoise": setting.your_noise_dbm,
        "theirNoise": setting.their_noise_dbm,
        "readable": setting.readable_snr_db,
        "comfortable": setting.comfortable_snr_db,
        "voice": setting.mode in FM_VOICE,
        "fm": setting.fm_receiver,
        "height": setting.height_m,
        "within": setting.link.good_within_deg,
        "handheld": setting.link.you.handheld,
        "shared": setting.shared_db,
        "out": setting.out_db,
        "back": setting.back_db,
        "deviates": list(setting.time_deviates),
        "median": setting.time_percents.index(50.0),
        "heights": [
            [
                row.height_m,
                row.out_margin_db,
                row.back_margin_db,
                row.disagreement_db,
                row.vertical_db,
                row.horizontal_db,
                list(row.time_losses_db),
            ]
            for row in setting.heights
        ],
    }


def _profile(profile: SheetProfile) -> dict[str, Any]:
    return {
        "d": [round(value) for value in profile.distance_m.tolist()],
        "g": [round(value) for value in profile.ground_m.tolist()],
        "c": [round(value) for value in profile.clearance_m.tolist()],
        "at": profile.limiting,
    }


def _rounded(value: Any) -> Any:
    """Seven decimals: a centimetre in degrees, and far below what the answer shows elsewhere."""
    if isinstance(value, float):
        return round(value, 12) if abs(value) < 1.0 else round(value, 7)
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    return value
