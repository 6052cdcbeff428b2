"""How the models refuse: limits sit in the field's type, and one line names field, value and limits."""

from __future__ import annotations

import difflib
import reprlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError
from pydantic_core import ErrorDetails, core_schema

from pathprofile.errors import StationError

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["Stated", "Within"]

_TABLE = "a table of keys and values is needed"
_LIST = "a list is needed"
# One way to write each key that takes a table or a list.
_EXAMPLES = {
    "antenna": 'antenna = { kind = "dipole" }',
    "feedline": 'feedline = { cable = "RG-58", length_m = 6 }',
    "receiver": "receiver = { noise_figure_db = 5 }",
    "noise": 'noise = { category = "rural" }',
    "my_set_ups": '[my_set_ups.rucksack] with bands = ["2 m"] below it',
    "weights": 'weights = { "Marsh End" = 3 }',
    "tiles": 'tiles = ["."]',
    "set_ups": '[[stations.set_ups]] with bands = ["2 m"] below it',
    "stations": "[[stations]] with name and place below it",
    "sites": "[[sites]] with name and place below it",
    "landmarks": "[[landmarks]] with name and place below it",
}


@dataclass(frozen=True)
class Within:
    """Annotation of a number: accepted from ``low`` to ``high``, both included; text is no number."""

    low: float
    high: float
    unit: str
    whole: bool = False

    def check(self, value: object) -> float:
        """Return the value as a number, or raise ValueError with the limits."""
        limits = f"{self.low:g} to {self.high:g} {self.unit}"
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"accepted: a number, {limits}")  # noqa: TRY004 - pydantic collects ValueErrors only
        if not self.low <= value <= self.high:
            raise ValueError(f"accepted: {limits}")
        if self.whole and value != int(value):
            raise ValueError(f"accepted: a whole number, {limits}")
        return int(value) if self.whole else float(value)

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.check, json_schema_input_schema=core_schema.float_schema(ge=self.low, le=self.high)
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "number", "minimum": self.low, "maximum": self.high, "description": f"[{self.unit}]"}


class Stated(BaseModel):
    """Base of what a user states: frozen, unknown keys refused, every refusal a one-line `StationError`."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_max_length=2000)

    def __init__(self, **data: Any) -> None:
        try:
            super().__init__(**data)
        except ValidationError as error:
            raise StationError(_one_line(error, type(self).model_fields, data.get("name"))) from None

    @classmethod
    def read(cls, data: object) -> Self:
        """Build from a mapping, as read from a file.

        Raises
        ------
        StationError
            One line: the field (dotted, with the set-up's number), the value and what is accepted.
        """
        if not isinstance(data, dict) or not all(isinstance(key, str) for key in data):
            raise StationError(f"{cls.__name__} {reprlib.repr(data)}: {_TABLE}")
        return cls(**data)


def _one_line(error: ValidationError, fields: Iterable[str], name: object) -> str:
    details = error.errors(include_url=False)
    first = _phrase(details[0], fields)
    more = f" (and {len(details) - 1} more)" if len(details) > 1 else ""
    where = f"{name[:60]}: " if isinstance(name, str) and name else ""
    return " ".join(f"{where}{first}{more}".split())


def _phrase(detail: ErrorDetails, fields: Iterable[str]) -> str:
    place = _dotted(detail["loc"])
    inner = detail.get("ctx", {}).get("error")
    kind = detail["type"]
    if isinstance(inner, StationError):
        # The refusal of a nested table already names its own field, so only its place is put before it.
        nested = isinstance(detail["input"], dict)
        return f"{place}.{inner}" if place and nested else f"{place}: {inner}" if place else str(inner)
    if kind == "extra_forbidden":
        close = difflib.get_close_matches(str(detail["loc"][-1]), list(fields), n=3, cutoff=0.5)
        hint = f"did you mean {' or '.join(close)}?" if close else f"known: {', '.join(fields)}"
        return f"{place}: unknown key; {hint}"
    if kind == "missing":
        return f"{place} is needed"
    if kind in {"model_type", "model_attributes_type", "dict_type", "tuple_type"}:
        reason = _LIST if kind == "tuple_type" else _TABLE
        if example := _EXAMPLES.get(
            next((part for part in detail["loc"][::-1] if isinstance(part, str)), "")
        ):
            reason += f", such as {example}"
    else:
        reason = str(inner) if inner is not None else detail["msg"].replace("Input should be", "accepted:")
    return f"{place} = {reprlib.repr(detail['input'])}: {reason}" if place else reason


def _dotted(loc: tuple[int | str, ...]) -> str:
    text = ""
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text
