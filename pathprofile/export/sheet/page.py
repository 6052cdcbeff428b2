"""A trip sheet as one HTML text: the model's values put into words, then into the template."""

from __future__ import annotations

import base64
import hashlib
import re
from importlib import resources
from typing import TYPE_CHECKING

from pathprofile.export.sheet.after import after_values
from pathprofile.export.sheet.live import live_json
from pathprofile.export.sheet.page_one import page_one_values

if TYPE_CHECKING:
    from pathprofile.trip.sheet import Sheet

__all__ = ["sheet_html"]

# Control characters and lone surrogates: no page can show them, and UTF-8 cannot hold the latter.
_UNSHOWN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_SCRIPTS = ("geodesy.js", "chance.js", "order.js", "page.js")


def sheet_html(sheet: Sheet) -> str:
    """Write a sheet as one self-contained HTML text.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    str
        With style, script and figures inside and no reference to anything outside; text from the user is
        escaped wherever it stands.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    style, script = _part("page.css"), _script()
    environment = Environment(
        loader=PackageLoader("pathprofile.export", "sheet"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    page = environment.get_template("page.html.j2")
    html = page.render(
        style=Markup(style),  # noqa: S704 - our own file
        script=Markup(script),  # noqa: S704 - our own file
        style_hash=_hash(style),
        script_hash=_hash(script),
        figures=Markup(live_json(sheet)),  # noqa: S704 - escaped for a script element where it is written
        **page_one_values(sheet),
        **after_values(sheet),
    )
    return _UNSHOWN.sub("\ufffd", html)


def _part(name: str) -> str:
    return resources.files("pathprofile.export.sheet").joinpath(name).read_text(encoding="utf-8")


def _script() -> str:
    """Wrap the parts into one strict function that leaves no names behind."""
    parts = "\n".join(_part(name) for name in _SCRIPTS)
    return f'(() => {{\n"use strict";\n{parts}}})();'


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
