"""Elements of XML documents, their text made fit for it."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from pathprofile.export.text import one_line

__all__ = ["add", "as_bytes"]


def add(parent: ET.Element, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    """Child element; markup in its text is escaped when it is written, characters XML forbids are dropped."""
    child = ET.SubElement(parent, tag, attributes)
    if text is not None:
        child.text = one_line(text)
    return child


def as_bytes(root: ET.Element) -> bytes:
    """Indented UTF-8 document; equal trees give equal bytes."""
    ET.indent(root)
    document: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return document + b"\n"
