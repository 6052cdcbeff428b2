"""The trip sheet as a file: one HTML page that needs nothing else, and what a browser prints of it."""

from __future__ import annotations

from pathprofile.export.sheet.page import sheet_html
from pathprofile.export.sheet.writing import SUFFIXES, write_sheet

__all__ = ["SUFFIXES", "sheet_html", "write_sheet"]
