"""The book's JSON Schema, made from the models; ``python -m pathprofile.trip.schema`` writes it again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

__all__ = ["SCHEMA_FILE", "book_schema_text"]

SCHEMA_FILE = Path(__file__).with_name("book.schema.json")


def book_schema_text() -> str:
    """JSON Schema (draft 2020-12) of a book, as the shipped file holds it.

    Returns
    -------
    str
        JSON with a line end. TOML dates count as strings of the form ``2026-06-14``.
    """
    from pathprofile.trip.book import Book

    schema: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **Book.model_json_schema(),
        "title": "A pathprofile book",
    }
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    from pathprofile.atomic import write_atomically

    write_atomically(SCHEMA_FILE, book_schema_text().encode())
