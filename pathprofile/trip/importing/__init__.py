"""Lists that others sent, taken into the book: one module a format, and the doubts they share."""

from __future__ import annotations

from pathprofile.trip.importing.entry import Remark
from pathprofile.trip.importing.merging import KINDS, import_into
from pathprofile.trip.importing.report import ImportReport

__all__ = ["KINDS", "ImportReport", "Remark", "import_into"]
