"""Inputs as large as their limits allow, or larger: ``python -m fuzz.oversized``, a process for each.

Prints the processor time and the peak of memory of each, and how it ended; 1 if any took more than 6 s, more
than 1 GB, or ended in anything but an answer or a refusal.
"""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from pathprofile.errors import PathProfileError
from pathprofile.trip.starter import write_starter

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["CASES", "main"]

_MOST_S, _MOST_MB = 6.0, 1024.0  # 5 s, and one to load the program
_JUNK = b"1 2 3 4 5 6 7 8 9 W m dBi N E 46 12 HN96 "


def _list(content: bytes, kind: str) -> Callable[[Path], object]:
    def read(folder: Path) -> object:
        from pathprofile.trip.importing import import_into

        write_starter(folder / "trip.toml")
        return str(import_into(folder / "trip.toml", io.BytesIO(content), kind=kind))

    return read


def _file(reader: Callable[[Path], object], content: bytes, name: str = "file") -> Callable[[Path], object]:
    def read(folder: Path) -> object:
        (folder / name).write_bytes(content)
        return reader(folder / name)

    return read


def _book(path: Path) -> object:
    from pathprofile.trip.book import read_book

    return len(read_book(path).stations)


def _log(path: Path) -> object:
    from pathprofile.trip.log import read_log

    return len(read_log(path).rows)


def _mask(path: Path) -> object:
    from pathprofile.area.mask import read_mask

    return len(read_mask(path).polygons)


def _prediction(path: Path) -> object:
    from pathprofile.trip.prediction import read_prediction

    return len(read_prediction(path).rows)


def _maps(path: Path) -> object:
    from pathprofile.atmosphere import RefractivityMaps

    return RefractivityMaps.read(path.parent)


CASES: dict[str, Callable[[], Callable[[Path], object]]] = {
    "table: rows": lambda: _list(
        b"name,latitude,longitude\n" + b"".join(b"S%d,46.5%05d,-21.1\n" % (i, i) for i in range(19_000)),
        "csv",
    ),
    "table: quotes": lambda: _list(b"name,latitude,longitude\n" + b'"\n' * 400_000, "csv"),
    "table: one row": lambda: _list(b"name,latitude,longitude\n" + b"a," * 4_900_000, "csv"),
    "table: digits": lambda: _list(b"name,place\na," + b"9" * 9_000_000, "csv"),
    "text: spaces": lambda: _list(b" " * 1_100_000 + b"x", "text"),
    "text: numbers": lambda: _list((_JUNK * 20 + b"\n") * 1_450, "text"),
    "text: stations": lambda: _list(b"Alder: 46.5012 -21.2200 2m 10 W\n" * 36_000, "text"),
    "text: brackets": lambda: _list((b"(" * 990 + b"\n") * 1_200, "text"),
    "GPX: waypoints": lambda: _list(b"<gpx>" + b'<wpt lat="46" lon="-21"/>' * 390_000 + b"</gpx>", "gpx"),
    "KML: coordinates": lambda: _list(
        b"<kml><Placemark><name>a</name><Point><coordinates>"
        + b"1,1 " * 2_400_000
        + b"</coordinates></Point>"
        b"</Placemark></kml>",
        "kml",
    ),
    "GeoJSON: features": lambda: _list(
        b'{"type":"FeatureCollection","features":[' + b"[]," * 3_000_000 + b"0]}", "geojson"
    ),
    "log: rows": lambda: _file(_log, b"station,sent\n" + b"Marsh,59\n" * 490_000),
    "log: one report": lambda: _file(_log, b"station,sent\na," + b"5" * 4_900_000),
    "book: stations": lambda: _file(
        _book, b"".join(b'[[stations]]\nname="S%d"\nplace="46.5 -21.1"\n' % i for i in range(20_000))
    ),
    "book: one string": lambda: _file(_book, b'notes = "' + b"x" * 19_900_000 + b'"'),
    "book: keys": lambda: _file(_book, b"".join(b"k%d=1\n" % i for i in range(399_000))),
    "book: one list": lambda: _file(_book, b"notes=[" + b"1," * 399_000 + b"]"),
    "book: weights": lambda: _file(
        _book, b"[trip.weights]\n" + b"".join(b'"n%d"=1\n' % i for i in range(399_000))
    ),
    "mask: one ring": lambda: _file(
        _mask, b'{"type":"Polygon","coordinates":[[' + b"[1,4]," * 2_700_000 + b"[2,46]]]}"
    ),
    "prediction: rows": lambda: _file(
        _prediction, b'{"schema":"pathprofile.prediction/1","rows":[' + b"{}," * 9_900_000 + b"{}]}"
    ),
    "maps: one row": lambda: _file(_maps, b"1 " * 1_990_000, "DN50.TXT"),
    "maps: far too much": lambda: _file(_maps, b"1 " * 50_000_000, "DN50.TXT"),
}


def main() -> int:
    """Try every case in a process of its own, or the one that is named."""
    if len(sys.argv) > 1:
        return _one(sys.argv[1])
    print("| input | processor time | memory | ended |\n|---|---:|---:|---|", flush=True)
    codes = [
        subprocess.run([sys.executable, "-m", "fuzz.oversized", name], check=False).returncode  # noqa: S603
        for name in CASES
    ]
    return int(any(codes))


def _one(name: str) -> int:
    read = CASES[name]()
    started = time.process_time()
    code = 0
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        try:
            read(Path(folder))
            how = "read"
        except PathProfileError as error:
            how = "refused: …" + str(error)[-70:]
        except Exception as error:  # noqa: BLE001 - whatever escapes is what is looked for
            how, code = f"**{type(error).__name__}**", 1
    took = time.process_time() - started
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"| {name} | {took:.1f} s | {used:.0f} MB | {how} |", flush=True)
    return int(code or took > _MOST_S or used > _MOST_MB)


if __name__ == "__main__":
    sys.exit(main())
