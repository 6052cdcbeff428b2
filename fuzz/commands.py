"""Target that runs whole command lines in this process, their options taken from the commands themselves."""
# ruff: noqa: D102 - the base class says what `make` and `try_out` are

from __future__ import annotations

import io
import json
import os
import shutil
import sys
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from fuzz.case import Target, sure
from fuzz.mutate import ODD_TEXT, mutate_text, random_text
from fuzz.samples import BOOKS, LISTS, LOGS, PLACES, prediction_text

if TYPE_CHECKING:
    from pathlib import Path
    from random import Random

__all__ = ["Commands"]

_PLACES = (
    "47.74833 -21.00083",
    "46.29750,-20.93750",
    "HN97oc",
    *PLACES,
    *PLACES.values(),
    "46°17.85'N 20°56.25'W",
    "27T WM 04813 27104",
    "0 0",
    "90 0",
    "47,74833 -21,00083",
)
_HEIGHTS = ("6", "6m", "20ft", "0.5", "3000", "0", "-3", "1,5m")
_DISTANCES = ("500m", "12.4km", "3mi", "0m", "1nmi", "20004km")
# Values by the end of an option's name, the first three good; other options get those of all.
_VALUES: dict[str, tuple[str, ...]] = {
    "place": _PLACES,
    "site": ("Gull Tor", "Kestrel Pike", "gull tor", *_PLACES),
    "name": ("Gull Tor", "Marsh End", *_PLACES),
    "file": (
        *tuple(f"list{number}" for number in range(len(LISTS))),
        "-",
        "trip.toml",
        "nofile",
        "/dev/null",
        ".",
    ),
    "logs": ("log0", "log1", "log2", "nofile", "trip.toml", "/dev/null", "."),
    "prediction": ("a.prediction.json", "a.prediction.json", "a.prediction.json", "log0", "nofile", "."),
    "path": ("new.toml", "other.toml", "a b é.toml", "trip.toml", "no/folder.toml", ".", "/dev/full", ""),
    "book": ("trip.toml", "trip.toml", "trip.toml", "nofile", "log0", ".", "/dev/null", "spoilt.toml"),
    "dem": ("DEM", "DEM", "DEM", "trip.toml", "nofolder", ".", "/dev/null", "DEM/N46W022.tif"),
    "frequency": ("2m", "70cm", "146.52", "1.296GHz", "50", "3000", "30", "29"),
    "band": ("2m", "70 cm", "23cm", "7m"),
    "mode": ("ssb", "fm", "morse", "weak-digital", "packet-1200", "am"),
    "mode_wanted": ("ssb", "fm", "morse"),
    "polarization": ("vertical", "horizontal", "h"),
    "height": _HEIGHTS,
    "ground": (*_HEIGHTS, "861", "10000"),
    "mast_limit": _HEIGHTS,
    "clutter": _HEIGHTS,
    "power": ("5", "100", "0.001", "1e4", "0", "nan"),
    "antenna": ("5-element beam", "vertical", "9dBi", "7 dBd", "-30dBi", "quarter-wave"),
    "feedline": ("RG-213 12m", "2.5dB", "RG-58 30ft", "0dB"),
    "noise": ("quiet rural", "city", "S3", "-120dBm/2.4kHz", "residential"),
    "obstacle": ("12.4km:18m", "1km:1m", "0.1km:300m", "160km:20m"),
    "sea": ("20km-65km", "0km-5km", "1km-160km"),
    "clear": _DISTANCES,
    "step": ("30m", "100m", "1m", "50km", "0.1m"),
    "k": ("1.33", "0.45", "150", "0.667", "-1"),
    "delta_n": ("39", "-200", "156", "157"),
    "n0": ("325", "250", "400", "0"),
    "refractivity_maps": ("maps", "maps", "maps", ".", "nofolder"),
    "date": ("2026-06-14", "2024-02-29", "1900-01-01", "9999-12-31", "0001-01-01", "2026-02-30"),
    "chart": ("a.svg", "a.png", "a.pdf", "a.gif", "no/a.png", ".png", "/dev/full"),
    "raster": ("a.tif", "a.png"),
    "save": ("a.gpx", "a.kml", "a.geojson", "a.csv", "a.txt", "no/a.gpx"),
    "charts": ("charts", "charts", "charts", "trip.toml", "no/charts"),
    "out": ("a.html", "a.html", "a.html", "a.txt", "no/a.html", "."),
    "sheet": ("a.html", "a.html", "nofile"),
    "order": ("chance", "azimuth", "distance", "x"),
    "paper": ("a4", "letter", "a5"),
    "kind": ("csv", "text", "gpx", "geojson", "kml", "xls"),
    "origin": _PLACES,
    "radius": ("5km", "12km", "8mi", "0m", "100m"),
    "cell": ("300m", "500m", "1km"),
    "time": ("50", "1", "99", "0", "100"),
}
# How often each command is tried; new ones that are not named here are tried rarely, as they may be slow.
_WEIGHTS = {"reach": 50, "locate": 40, "tiles": 15, "debrief": 12, "book add": 12, "new": 6, "defaults": 1}


class _Line(NamedTuple):
    words: tuple[str, ...]
    stdin: bytes


class Commands(Target):
    """Whole command lines: an answer, or one line on standard error and exit code 2; no file half-written."""

    name = "command lines"
    share = 3_000
    hang_s: ClassVar[float] = 60.0  # a ranking or a map may take longer than 5 s to work out
    address_bytes: ClassVar[int] = 8 * 2**30

    def __init__(self) -> None:
        super().__init__()
        from pathprofile.sample import sample_dir

        self._options = dict(_commands())
        self._dem = str(sample_dir())
        self._work = self.folder / "work"
        for name in ("HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "MPLCONFIGDIR"):
            os.environ[name] = str(self.folder / name)
            (self.folder / name).mkdir()
        os.environ.pop("PATHPROFILE_DEM", None)
        self._lay_out()
        os.chdir(self._work)

    def _lay_out(self) -> None:
        """Lay down the files that command lines name, and nothing else."""
        if self._work.is_dir():
            for each in self._work.iterdir():
                shutil.rmtree(each) if each.is_dir() else each.unlink()
        self._work.mkdir(exist_ok=True)
        _write(self._work / "trip.toml", BOOKS[0])
        _write(self._work / "spoilt.toml", BOOKS[0].replace("power_w = 10", "power_w = -10"))
        _write(self._work / "a.prediction.json", prediction_text())
        for number, (_kind, text) in enumerate(LISTS):
            _write(self._work / f"list{number}", text)
        for number, text in enumerate(LOGS):
            _write(self._work / f"log{number}", text)

    def make(self, rng: Random) -> _Line:
        names = list(self._options)
        command = rng.choices(names, [_WEIGHTS.get(name, 1) for name in names])[0]
        arguments, options = self._options[command]
        words = command.split()
        for place, (name, many) in enumerate(arguments):
            for _ in range(rng.choices((1, 0, 2), (30, 1, 1))[0] if not many else rng.choice((1, 2, 2, 3))):
                words.append(self._value(rng, name))
                # Two ends that are the same place are tried too, but not every other time.
                if place and words[-1] == words[-2] and rng.random() < 0.9:
                    words[-1] = rng.choice([each for each in _PLACES[3:] if each != words[-2]])
        chosen = rng.sample(options, min(len(options), rng.choice((0, 1, 1, 2, 3, 6))))
        if command == "coverage" or rng.random() < 0.8:
            chosen += [option for option in options if option[0] in {"--radius", "--cell", "--dem", "--book"}]
        for flag, name, is_flag in chosen:
            text = "" if is_flag else self._value(rng, name)
            words += [flag] if is_flag else [f"{flag}={text}"] if text.startswith("-") else [flag, text]
        if rng.random() < 0.05:
            words.insert(
                rng.randint(0, len(words)), rng.choice((*ODD_TEXT[:60], "--help", "--", "--zzz", "-h"))
            )
        if rng.random() < 0.03:
            del words[rng.randrange(len(words))]
        tidy = tuple(word.replace("\0", "")[:2000] for word in words)
        return _Line(tidy, rng.choice(LISTS)[1].encode())

    def _value(self, rng: Random, name: str) -> str:
        known = next(
            (values for end, values in _VALUES.items() if name == end or name.endswith(f"_{end}")), None
        )
        if name in {"from_place", "to_place", "places", "names", "other"}:
            known = _PLACES
        if known is None or rng.random() < 0.02:
            known = rng.choice(list(_VALUES.values()))
        text = rng.choice(known[:3] if rng.random() < 0.8 else known).replace("DEM", self._dem)
        how = rng.random()
        # Radius and cell decide how long a map takes, so they are not spoilt into large and fine ones.
        if name in {"radius", "cell"}:
            return text
        return mutate_text(rng, text, 2) if how < 0.05 else random_text(rng, 20) if how < 0.06 else text

    def try_out(self, given: _Line) -> str:
        self._lay_out()
        code, out, err = _run(given)
        sure("Traceback" not in err + out, f"a traceback: {err[-800:]}")
        sure("report it" not in err, err[-800:])
        sure(code in {0, 1, 2}, f"exit code {code!r}")
        hidden = [path.name for path in self._work.rglob("*.part")]
        sure(not hidden, f"left behind: {hidden}")
        if code == 2:
            sure(not out, f"words on standard out before a refusal: {out[:200]!r}")
            last = err.rstrip("\n").split("\n")[-1]
            sure(last.startswith("pathprofile: ") and len(last) < 2500, f"no line of refusal: {err[-400:]!r}")
            return "refused"
        if "--json" in given.words and code == 0 and "--help" not in given.words and out.startswith("{"):
            json.loads(out, parse_constant=_no_constant)
        return "taken"


def _no_constant(name: str) -> Any:
    sure(False, f"{name} in JSON")


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")


def _run(line: _Line) -> tuple[object, str, str]:
    """Exit code, standard output and standard error of a command line."""
    from pathprofile.cli import main

    before = sys.stdin, sys.stdout, sys.stderr
    streams = [
        io.TextIOWrapper(io.BytesIO(line.stdin if n == 0 else b""), "utf-8", write_through=True)
        for n in range(3)
    ]
    sys.stdin, sys.stdout, sys.stderr = streams
    code: object = None
    try:
        main(list(line.words))
    except SystemExit as ended:
        code = ended.code
    finally:
        sys.stdin, sys.stdout, sys.stderr = before
    out, err = (stream.buffer.getvalue().decode("utf-8", "replace") for stream in streams[1:])  # type: ignore[attr-defined]
    return code, out, err


_Options = tuple[list[tuple[str, bool]], list[tuple[str, str, bool]]]


def _commands() -> dict[str, _Options]:
    """Arguments (name, many) and options (flag, name, whether it stands alone) of every command."""
    from typer.main import get_command

    from pathprofile.cli.app import app

    found: dict[str, _Options] = {}

    def walk(command: Any, path: tuple[str, ...]) -> None:
        if hasattr(command, "commands"):
            for name, each in command.commands.items():
                walk(each, (*path, name))
            return
        arguments = [(p.name, p.nargs == -1) for p in command.params if p.param_type_name == "argument"]
        options = [(p.opts[0], p.name, p.is_flag) for p in command.params if p.param_type_name == "option"]
        found[" ".join(path)] = arguments, options

    walk(get_command(app), ())
    return found
