"""Coverage-guided fuzzing of the readers of text: ``python -m fuzz.guided TARGET [-runs=N ...]``.

Needs the package atheris, which is no requirement of the project: inputs that reach new branches of the code
are kept and changed further. Options after the target go to its engine. It stops at the first finding.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

__all__ = ["main"]

_TEXT = {"places", "quantities", "reports"}
_BYTES = {"book", "log", "import", "mask"}


def main() -> None:
    """Run the engine on one target."""
    import atheris

    name = sys.argv[1] if len(sys.argv) > 1 else ""
    if name not in _TEXT | _BYTES:
        raise SystemExit(f"target {name!r}: give one of {', '.join(sorted(_TEXT | _BYTES))}")
    with atheris.instrument_imports(include=["pathprofile"]):
        from fuzz import lists, words
        from fuzz.targets import TARGETS
    target = TARGETS[name]()

    def one(data: bytes) -> None:
        if name in _BYTES:
            kind = lists.KINDS[data[0] % len(lists.KINDS)] if data else None
            target.try_out(lists.Listed(data[1:], kind, "list.txt") if name == "import" else data)
            return
        text = atheris.FuzzedDataProvider(data).ConsumeUnicode(250)
        target.try_out(words.Placed(text) if name == "places" else text)

    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        for number, content in enumerate(_seeds(name)):
            (Path(folder) / str(number)).write_bytes(content)
        atheris.Setup([sys.argv[0], folder, *sys.argv[2:]], one)
        atheris.Fuzz()


def _seeds(name: str) -> list[bytes]:
    """Collect valid inputs to start from."""
    from fuzz.lists import KINDS
    from fuzz.samples import BOOKS, LISTS, LOGS, PLACES

    listed = [bytes([KINDS.index(kind)]) + text.encode() for kind, text in LISTS]
    known = {"book": BOOKS, "log": LOGS, "places": PLACES.values()}
    return listed if name == "import" else [text.encode() for text in known.get(name, ())]


if __name__ == "__main__":
    main()
