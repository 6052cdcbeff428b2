"""XML read as it comes, without entities: only the elements asked for, each with its line."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from xml.parsers import expat

from pathprofile.errors import StationError

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Element", "read_elements"]

_DEEPEST = 60
_LONGEST_TEXT = 20_000
_MOST_WITHIN = 2_000  # elements kept within one that is wanted; more are passed over
_PIECE = 65_536


@dataclass
class Element:
    """An element: name without its prefix, attributes, text, children, and the line it starts on."""

    name: str
    line: int
    attributes: dict[str, str] = field(default_factory=dict)
    text: str = ""
    children: list[Element] = field(default_factory=list)

    def child_text(self, *names: str) -> str:
        """Text of the first child of one of these names that has any."""
        return next(
            (
                child.text.strip()
                for name in names
                for child in self.children
                if child.name == name and child.text
            ),
            "",
        )

    def all(self, name: str) -> Iterator[Element]:
        """All elements of a name within this one, at any depth."""
        for child in self.children:
            if child.name == name:
                yield child
            yield from child.all(name)


class _Collector:
    """Keeps the wanted elements whole and lets everything else pass by."""

    def __init__(self, wanted: str, file: str) -> None:
        self.done: list[Element] = []
        self.root = ""
        self._wanted = wanted
        self._file = file
        self._open: list[Element] = []
        self._depth = 0
        self._kept = 0
        self.parser = expat.ParserCreate(encoding="utf-8")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._characters
        # A document type is where entities are declared; lists of places never need one.
        self.parser.StartDoctypeDeclHandler = self._refuse_doctype

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        self.root = self.root or name
        self._depth += 1
        if self._depth > _DEEPEST:
            raise StationError(
                f"{self._file}, line {self.parser.CurrentLineNumber}: nested too deep for a list"
            )
        if self._open or name == self._wanted:
            element = Element(name, self.parser.CurrentLineNumber, attributes)
            self._kept = self._kept + 1 if self._open else 0
            if self._open and self._kept <= _MOST_WITHIN:
                self._open[-1].children.append(element)
            self._open.append(element)

    def _end(self, _tag: str) -> None:
        self._depth -= 1
        if self._open:
            element = self._open.pop()
            if not self._open:
                self.done.append(element)

    def _characters(self, data: str) -> None:
        if self._open and len(self._open[-1].text) < _LONGEST_TEXT:
            self._open[-1].text += data[:_LONGEST_TEXT]

    def _refuse_doctype(self, *_declaration: object) -> None:
        raise StationError(
            f"{self._file}, line {self.parser.CurrentLineNumber}: it declares a document type, through which"
            " entities can be made to explode; remove the DOCTYPE and save again"
        )


def read_elements(text: str, wanted: str, root: str, file: str) -> Iterator[Element]:
    """Elements of one name, in their order.

    Parameters
    ----------
    text : str
        The document; what it declares of its encoding is passed over, since it is text already.
    wanted : str
        Name of the elements, without prefix.
    root : str
        Name that the outermost element must have.
    file : str
        Named in refusals.

    Raises
    ------
    StationError
        For broken XML, another root, a document type, and nesting beyond 60.
    """
    collector = _Collector(wanted, file)
    raw = text.lstrip("\ufeff \t\r\n").encode("utf-8", "replace")
    skipped_lines = text[: len(text) - len(text.lstrip("\ufeff \t\r\n"))].count("\n")
    try:
        for start in range(0, len(raw) + 1, _PIECE):
            collector.parser.Parse(raw[start : start + _PIECE], start + _PIECE > len(raw))
            if collector.root and collector.root != root:
                raise StationError(f"{file}: the outermost element is {collector.root[:40]!r}, not {root!r}")
            for element in collector.done:
                element.line += skipped_lines
                yield element
            collector.done.clear()
    except expat.ExpatError as error:
        line = error.lineno + skipped_lines
        raise StationError(f"{file}, line {line}: broken XML: {expat.errors.messages[error.code]}") from None
