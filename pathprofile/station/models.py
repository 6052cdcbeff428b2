"""Stations and their set-ups as a user states them.

What is left out is ``None`` here and is assumed, with its source, by `pathprofile.link.assume`.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from pathprofile.errors import StationError
from pathprofile.station.catalogue import (
    ANTENNAS,
    SHARED_SITE,
    antenna_name,
    band_of,
    band_span_mhz,
    cable_name,
    mode_name,
    noise_category_name,
)
from pathprofile.station.checks import Stated, Within

if TYPE_CHECKING:
    from pathprofile.places import Location

__all__ = ["Antenna", "Feedline", "Noise", "Receiver", "SetUp", "Station"]

_GAIN = Within(-30.0, 40.0, "dBi or dBd")
BeamwidthDeg = Annotated[float, Within(1.0, 360.0, "degrees")]
FrequencyMhz = Annotated[float, Within(30.0, 3000.0, "MHz")]
HeightM = Annotated[float, Within(0.5, 3000.0, "m above the ground")]
PowerW = Annotated[float, Within(0.001, 10_000.0, "W")]
_AZIMUTH = Within(0.0, 360.0, "degrees true")
_GAIN_TEXT = re.compile(r"([+-]?\d{1,2}(?:\.\d{1,2})?)\s*dB([id])", re.IGNORECASE)
_S_READING = re.compile(r"S(?:\d|9\+\d{1,2})", re.IGNORECASE)
_HOURS = re.compile(r"([01]\d|2[0-4]):([0-5]\d)-([01]\d|2[0-4]):([0-5]\d)")
_WHOLE_HOURS = re.compile(r"\s*(\d{1,2})(?::?([0-5]\d))?\s*[-\u2013]\s*(\d{1,2})(?::?([0-5]\d))?\s*")
_UTC_SHIFT = re.compile(r"UTC(?:[+-](?:0?\d|1[0-4])(?::[0-5]\d)?)?")


def _band(text: object) -> str:
    try:
        return band_of(text)
    except StationError as error:
        raise ValueError(str(error)) from None


def _meant_hours(written: object) -> str:
    """Hours written short, as they are accepted: ``19:00-21:00`` for ``19-21``; else an example."""
    found = _WHOLE_HOURS.fullmatch(written) if isinstance(written, str) else None
    if found is None:
        return "18:00-20:00"
    meant = f"{int(found[1]):02d}:{found[2] or '00'}-{int(found[3]):02d}:{found[4] or '00'}"
    return meant if _HOURS.fullmatch(meant) else "18:00-20:00"


def _choose_one(what: str, **given: object) -> None:
    stated = [name for name, value in given.items() if value is not None]
    if len(stated) > 1:
        raise StationError(f"{' and '.join(stated)} both state the {what}; choose one")


class Antenna(Stated):
    """An antenna: a named kind, or its gain, over the bands of its set-up.

    ``gain_dbi`` and ``gain_dbd`` are one figure or one a band: ``{"2 m" = 6.5, "70 cm" = 9}``. The elements'
    own plane is "along", the plane across them is "across"; which of the two lies flat follows ``mounting``.
    """

    kind: str | None = None
    stacked_pair: bool = False
    gain_dbi: float | dict[str, float] | None = None
    gain_dbd: float | dict[str, float] | None = None
    beamwidth_along_deg: BeamwidthDeg | None = None
    beamwidth_across_deg: BeamwidthDeg | None = None
    front_to_back_db: Annotated[float, Within(0.0, 60.0, "dB")] | None = None
    mounting: Literal["vertical", "horizontal"] | None = None
    pointing: Literal["other end", "all round"] | float = "other end"

    @field_validator("kind")
    @classmethod
    def _known_kind(cls, value: str | None) -> str | None:
        return None if value is None else antenna_name(value)

    @field_validator(
        "gain_dbi", "gain_dbd", mode="plain", json_schema_input_type=float | dict[str, float] | None
    )
    @classmethod
    def _possible_gain(cls, value: object) -> float | dict[str, float] | None:
        if value is None:
            return None
        if isinstance(value, dict):
            if not value:
                raise ValueError("state one gain, or one a band")
            return {_band(band): _GAIN.check(gain) for band, gain in value.items()}
        return _GAIN.check(value)

    @field_validator(
        "pointing", mode="plain", json_schema_input_type=Literal["other end", "all round"] | float
    )
    @classmethod
    def _possible_pointing(cls, value: object) -> object:
        if isinstance(value, str) and value in {"other end", "all round"}:
            return value
        try:
            return _AZIMUTH.check(value)
        except ValueError as error:
            raise ValueError(
                f"accepted: 'other end', 'all round', or {str(error).removeprefix('accepted: ')}"
            ) from None

    @model_validator(mode="after")
    def _one_gain(self) -> Self:
        _choose_one("gain", gain_dbi=self.gain_dbi, gain_dbd=self.gain_dbd)
        return self


class Feedline(Stated):
    """The line from radio to antenna: cable, length, connectors and adapters counted; or its loss in dB."""

    cable: str | None = None
    length_m: Annotated[float, Within(0.0, 500.0, "m")] | None = None
    connectors: Annotated[int, Within(0, 30, "pieces", whole=True)] | None = None
    adapters: Annotated[int, Within(0, 30, "pieces", whole=True)] = 0
    loss_db: Annotated[float, Within(0.0, 60.0, "dB")] | None = None

    @field_validator("cable")
    @classmethod
    def _known_cable(cls, value: str | None) -> str | None:
        return None if value is None else cable_name(value)

    @model_validator(mode="after")
    def _loss_or_cable(self) -> Self:
        if self.loss_db is not None and (self.cable is not None or self.length_m is not None):
            raise StationError("loss_db and cable with length_m both state the loss; choose one")
        return self


class Receiver(Stated):
    """A receiver: its noise figure, or its sensitivity in µV across 50 Ω (not e.m.f.) for 12 dB SINAD."""

    noise_figure_db: Annotated[float, Within(0.0, 30.0, "dB")] | None = None
    sensitivity_uv: Annotated[float, Within(0.01, 100.0, "µV across 50 Ω")] | None = None
    sinad_db: Annotated[float, Within(12.0, 12.0, "dB (the only SINAD with a rule)")] = 12.0
    channel_khz: Annotated[float, Within(12.5, 25.0, "kHz")] | None = None

    @model_validator(mode="after")
    def _one_figure(self) -> Self:
        _choose_one(
            "receiver's noise", sensitivity_uv=self.sensitivity_uv, noise_figure_db=self.noise_figure_db
        )
        if self.sensitivity_uv is not None and self.channel_khz not in {12.5, 25.0}:
            raise StationError(
                f"channel_khz = {self.channel_khz}: 12.5 or 25 is needed beside sensitivity_uv"
            )
        return self


class Noise(Stated):
    """Noise at the antenna's place: a category of ITU-R P.372, or one of three measurements.

    A measurement holds for one band: ``measured_on`` names it where the set-up has several.
    """

    category: str | None = None
    extra_db: Annotated[float, Within(0.0, 60.0, "dB")] = 0.0
    desensitization_db: Annotated[float, Within(0.0, 80.0, "dB")] | None = None
    floor_dbm: Annotated[float, Within(-174.0, -20.0, "dBm at the receiver input")] | None = None
    floor_bandwidth_khz: Annotated[float, Within(0.001, 10_000.0, "kHz")] | None = None
    s_reading: str | None = None
    rise_db: Annotated[float, Within(0.0, 60.0, "dB above a 50 Ω load")] | None = None
    measured_on: str | None = None

    @field_validator("category")
    @classmethod
    def _known_category(cls, value: str | None) -> str | None:
        return None if value is None else noise_category_name(value)

    @field_validator("s_reading")
    @classmethod
    def _readable_s(cls, value: str | None) -> str | None:
        if value is not None and not _S_READING.fullmatch(value.replace(" ", "")):
            raise ValueError("accepted: S0 to S9, or S9+10")
        return value

    @field_validator("measured_on")
    @classmethod
    def _known_band(cls, value: str | None) -> str | None:
        return None if value is None else band_of(value)

    @model_validator(mode="after")
    def _one_measurement(self) -> Self:
        _choose_one("noise", floor_dbm=self.floor_dbm, s_reading=self.s_reading, rise_db=self.rise_db)
        if (self.floor_dbm is None) != (self.floor_bandwidth_khz is None):
            raise StationError("floor_dbm and floor_bandwidth_khz belong together; state both")
        if self.desensitization_db is not None and self.category != SHARED_SITE:
            raise StationError(f"desensitization_db belongs to category {SHARED_SITE!r}; state that category")
        return self

    @property
    def measured(self) -> bool:
        """True where one of the three measurements is stated."""
        return self.floor_dbm is not None or self.s_reading is not None or self.rise_db is not None


class SetUp(Stated):
    """One way a station is set up: its bands and everything from the key to the antenna.

    ``bands`` are names ("2 m") or frequencies in MHz. ``modes`` left empty means all of them, or those
    customary on the frequency that is stated. Text as ``antenna`` is the name of a kind, or a gain:
    ``"9 dBi"``.
    """

    bands: tuple[str, ...]
    modes: tuple[str, ...] = ()
    antenna: Antenna = Antenna()
    polarization: Literal["vertical", "horizontal", "slant", "circular"] | None = None
    height_m: HeightM | None = None
    max_height_m: HeightM | None = None
    feedline: Feedline = Feedline()
    power_w: PowerW | None = None
    max_power_w: PowerW | None = None
    duty: Annotated[float, Within(0.01, 1.0, "(share of the time at full power)")] | None = None
    receiver: Receiver = Receiver()
    noise: Noise = Noise()
    surroundings: Literal["open", "suburb", "wooded"] | None = None
    receive_mhz: FrequencyMhz | None = None
    transmit_mhz: FrequencyMhz | None = None
    shift_mhz: Annotated[float, Within(-100.0, 100.0, "MHz")] | None = None
    tone_hz: Annotated[float, Within(60.0, 260.0, "Hz")] | None = None
    packet_address: str | None = None
    packet_speed_bit_s: Literal[1200, 9600] | None = None
    packet_path: str | None = None
    notes: str = ""

    @field_validator("bands", mode="before")
    @classmethod
    def _known_bands(cls, value: object) -> object:
        items = value if isinstance(value, list | tuple) else [value]
        if not items:
            raise ValueError("name at least one band")
        return tuple(dict.fromkeys(band_of(item) for item in items))

    @field_validator("antenna", mode="before", json_schema_input_type=Antenna | str)
    @classmethod
    def _antenna_from_text(cls, value: object) -> object:
        if not isinstance(value, str):
            return value
        gain = _GAIN_TEXT.fullmatch(value.strip())
        return {"kind": value} if gain is None else {f"gain_db{gain[2].lower()}": float(gain[1])}

    @field_validator("modes", mode="before")
    @classmethod
    def _known_modes(cls, value: object) -> object:
        items = value if isinstance(value, list | tuple) else [value]
        return tuple(dict.fromkeys(mode_name(item) for item in items))

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        _choose_one("transmit frequency", transmit_mhz=self.transmit_mhz, shift_mhz=self.shift_mhz)
        known = f"bands of this set-up: {', '.join(self.bands)}"
        for low, high in (("height_m", "max_height_m"), ("power_w", "max_power_w")):
            value, limit = getattr(self, low), getattr(self, high)
            if value is not None and limit is not None and value > limit:
                raise StationError(f"{low} = {value:g}: above the stated limit {high} = {limit:g}")
        for name in ("receive_mhz", "transmit_mhz"):
            frequency_mhz = getattr(self, name)
            if frequency_mhz is not None and not self.covers(frequency_mhz):
                raise StationError(f"{name} = {frequency_mhz:g}: outside the {known}")
        measured_on = self.noise.measured_on
        if measured_on is not None and measured_on not in self.bands:
            raise StationError(f"noise.measured_on = {measured_on!r}: not among the {known}")
        if self.noise.measured and measured_on is None and len(self.bands) > 1:
            raise StationError("noise.measured_on is needed: a measured noise holds for one of several bands")
        for gain in (self.antenna.gain_dbi, self.antenna.gain_dbd):
            stray = [band for band in gain if band not in self.bands] if isinstance(gain, dict) else []
            if stray:
                raise StationError(f"antenna gain on {stray[0]}: not among the {known}")
        self._check_polarization()
        return self

    def _check_polarization(self) -> None:
        own = ANTENNAS[self.antenna.kind].polarization if self.antenna.kind else None
        if own and self.polarization not in {None, own}:
            raise StationError(
                f"polarization = {self.polarization!r}: a {self.antenna.kind} is {own}; leave one of them out"
            )
        linear = self.polarization in {"vertical", "horizontal"}
        mounting = self.antenna.mounting
        if linear and mounting not in {None, self.polarization}:
            raise StationError(
                f"polarization = {self.polarization!r}, antenna.mounting = {mounting!r}: choose one"
            )

    def covers(self, frequency_mhz: float) -> bool:
        """Whether one of the set-up's bands holds this frequency."""
        spans = (band_span_mhz(band) for band in self.bands)
        return any(low <= frequency_mhz <= high for low, high in spans)


class Station(Stated):
    """A place with one or more set-ups. Without any, everything about it is assumed.

    ``place`` keeps the text as typed, in any notation that `pathprofile.places` reads. ``receive_only``
    marks a station that can only be received, such as a beacon: it does not answer.
    """

    name: Annotated[str, Field(min_length=1, max_length=80)]
    place: Annotated[str, Field(min_length=1, max_length=200)]
    set_ups: tuple[SetUp, ...] = ()
    receive_only: bool = False
    listening_hours: tuple[str, ...] = ()
    time_zone: str | None = None
    notes: str = ""

    @field_validator("listening_hours", mode="before", json_schema_input_type=tuple[str, ...] | str)
    @classmethod
    def _readable_hours(cls, value: object) -> object:
        items = (value,) if isinstance(value, str) else value
        if not isinstance(items, list | tuple):
            raise ValueError('accepted: a list of HH:MM-HH:MM, such as ["18:00-20:00"]')  # noqa: TRY004 - pydantic collects ValueErrors only
        for hours in items:
            found = _HOURS.fullmatch(hours) if isinstance(hours, str) else None
            if found is None or any(found[h] == "24" and found[m] != "00" for h, m in ((1, 2), (3, 4))):
                raise ValueError(f"accepted: HH:MM-HH:MM, such as {_meant_hours(hours)!r}")
        return tuple(items)

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str | None) -> str | None:
        if value is None or _UTC_SHIFT.fullmatch(value):
            return value
        from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ValueError("accepted: UTC, UTC+2, UTC-3:30, or a name such as Europe/Lisbon") from None
        return value

    @model_validator(mode="after")
    def _hours_have_a_zone(self) -> Self:
        if self.listening_hours and self.time_zone is None:
            raise StationError("time_zone is needed beside listening_hours: UTC, UTC+2 or a name")
        return self

    def location(self) -> Location:
        """Where the station is, read from ``place``.

        Raises
        ------
        LocationError
            When the text is no place.
        """
        from pathprofile.places import parse_location

        return parse_location(self.place)
