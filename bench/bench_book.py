"""The book of a trip: read, and a table taken into it, at three sizes."""

from __future__ import annotations

import tempfile
from pathlib import Path

from bench.harness import Row, median_seconds
from pathprofile.trip import import_into, read_book

_HEAD = '[trip]\nbands = ["2 m"]\nhome = "47.74833 -21.00083"\n'


def _table(count: int) -> str:
    lines = (
        f"S{n},{46 + n / 6000:.5f},{-21 + n / 7001:.5f},{50 + n % 99},{145 + n % 90 / 100:.3f}\n"
        for n in range(count)
    )
    return "Name,Lat,Lon,Distance (km),Frequency\n" + "".join(lines)


def rows() -> list[Row]:
    found = []
    with tempfile.TemporaryDirectory() as folder:
        book, table = Path(folder) / "trip.toml", Path(folder) / "list.csv"
        for count in (12, 1000, 10_000):
            table.write_text(_table(count), encoding="utf-8")

            def take() -> None:
                book.write_text(_HEAD, encoding="utf-8")
                import_into(book, table)

            repeat = 3 if count > 1000 else 7
            seconds = median_seconds(take, repeat=repeat, warmup=1)
            found.append(Row("trip", f"table of {count} stations into an empty book", seconds, "s"))
            seconds = median_seconds(lambda: read_book(book), repeat=repeat, warmup=1)
            found.append(Row("trip", f"book of {count} stations read", seconds, "s"))
    return found
