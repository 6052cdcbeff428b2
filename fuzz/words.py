"""Targets that read one line of text: places, quantities, reports."""
# ruff: noqa: D102 - the base class says what `make` and `try_out` are

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from fuzz.case import Target, check_one_line, sure
from fuzz.mutate import mutate_text, random_text
from pathprofile.errors import LocationError, OutOfRangeError, PathProfileError
from pathprofile.geodesy import inverse
from pathprofile.places import Location, notations, parse_location
from pathprofile.quantities import BANDS, parse_distance_m, parse_frequency_mhz, parse_height_m
from pathprofile.trip.reports import WORDS, parse_report

if TYPE_CHECKING:
    from random import Random

__all__ = ["Placed", "Places", "Quantities", "Reports"]


class Placed(NamedTuple):
    """A text, and where it must lie if it is read at all (none for a spoilt text)."""

    text: str
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    within_m: float = math.inf


def apart_m(one: Location, latitude_deg: float, longitude_deg: float) -> float:
    """Distance [m], 0 for one and the same place."""
    try:
        return inverse(one.latitude_deg, one.longitude_deg, latitude_deg, longitude_deg).distance_m
    except LocationError:
        return 0.0 if abs(one.latitude_deg - latitude_deg) < 1.0 else 2.0e7


class Places(Target):
    """Place notations: in any dress, spoilt, and at random.

    A text dressed from a known point is read as that point or refused; whatever is read survives being
    written in every notation and read again, within the uncertainty of both.
    """

    name = "place notations"
    share = 40_000

    def make(self, rng: Random) -> Placed:
        if rng.random() < 0.1:
            return Placed(random_text(rng))
        dressed = _dressed(rng)
        return dressed if rng.random() < 0.4 else Placed(mutate_text(rng, dressed.text, 3))

    def try_out(self, given: Placed) -> str:
        try:
            place = parse_location(given.text)
        except LocationError as error:
            check_one_line(error)
            return "refused"
        if given.latitude_deg is not None and given.longitude_deg is not None:
            off_m = apart_m(place, given.latitude_deg, given.longitude_deg)
            sure(off_m <= given.within_m, f"{given.text!r} read {off_m:.0f} m away from where it is: {place}")
        for notation, text in notations(place).items():
            again = parse_location(text)
            off_m = apart_m(again, place.latitude_deg, place.longitude_deg)
            most_m = 1.05 * (place.uncertainty_m + again.uncertainty_m) + 0.2
            sure(off_m <= most_m, f"{given.text!r} as {notation}, {text!r}, is {off_m:.1f} m off")
        return "taken"


def _dressed(rng: Random) -> Placed:
    """Write a point in a notation and dress of chance, from integers, so that its place is known exactly."""
    if rng.random() < 0.3:
        point = Location(rng.uniform(-90, 90), rng.uniform(-180, 180), uncertainty_m=10 ** rng.uniform(-2, 5))
        text = rng.choice(list(notations(point).values()))
        return Placed(text, point.latitude_deg, point.longitude_deg, math.inf)
    parts = rng.choice((1, 1, 2, 3))
    decimals = rng.choice((0, 1, 2, 4, 6))
    letters = rng.random() < 0.5
    values, texts = [], []
    for most, hemispheres in ((90, "NS"), (180, "EW")):
        degrees, minutes, seconds = rng.randrange(most), rng.randrange(60), rng.randrange(60)
        fraction = rng.randrange(10**decimals) / 10**decimals
        numbers = [degrees, minutes, seconds][:parts]
        value = sum(number / 60**power for power, number in enumerate(numbers)) + fraction / 60 ** (parts - 1)
        last = f"{numbers[-1] + fraction:.{decimals}f}"
        written = [str(number) for number in numbers[:-1]] + [last]
        marks = rng.choice((("°", "'", '"'), ("º", "′", "″"), ("d", "m", "s"), (" ", " ", " ")))
        text = "".join(number + mark for number, mark in zip(written, marks, strict=False)).strip()
        negative = rng.random() < 0.5
        if letters:
            letter = hemispheres[negative]
            text = text + letter if rng.random() < 0.7 else letter + text
        elif negative:
            text = rng.choice("-\u2212") + text
        values.append(-value if negative else value)
        texts.append(text)
    between = rng.choice((" ", ", ", "; ", "  "))
    if letters and rng.random() < 0.2:
        texts.reverse()
    within_m = 60.0 if parts == 1 and decimals == 0 else 2.0
    return Placed(between.join(texts), values[0], values[1], within_m)


class Quantities(Target):
    """Heights, distances, frequencies: what is read is within its limits and what the digits say."""

    name = "quantities"
    share = 12_000
    _UNITS = ("m", "", "ft", "'", "km", "mi", "nmi", "MHz", "GHz", "kHz", "Hz", "feet", " m", " km")

    def make(self, rng: Random) -> str:
        if rng.random() < 0.15:
            return random_text(rng, 20)
        number = f"{10 ** rng.uniform(-3, 6):.{rng.randrange(6)}f}"
        text = rng.choice((number, number.replace(".", ","), rng.choice(list(BANDS)))) + rng.choice(
            self._UNITS
        )
        return text if rng.random() < 0.4 else mutate_text(rng, text, 2)

    def try_out(self, given: str) -> str:
        taken = False
        for read, low, high in (
            (parse_height_m, 0.0, 10_000.0),
            (parse_distance_m, 0.0, 2.1e7),
            (parse_frequency_mhz, 30.0, 3000.0),
        ):
            try:
                value = read(given)
            except OutOfRangeError as error:
                check_one_line(error, 700)
                continue
            taken = True
            sure(low <= value <= high, f"{read.__name__}({given!r}) is {value!r}")
            if value < 1e-9:
                continue
            again = read(f"{value:.12f}".rstrip("0").rstrip(".") + ("m" if read is parse_distance_m else ""))
            sure(
                math.isclose(again, value, rel_tol=1e-9, abs_tol=1e-9),
                f"{given!r} as {value!r} reads {again!r}",
            )
        return "taken" if taken else "refused"


class Reports(Target):
    """Signal reports as operators write them."""

    name = "signal reports"
    share = 8_000
    _KNOWN = ("59", "599", "5x9+10", "S7", "-12 dB", "20 over", "not heard", "5nn", "57, noisy", *WORDS)

    def make(self, rng: Random) -> str:
        text = rng.choice(self._KNOWN)
        return random_text(rng, 12) if rng.random() < 0.2 else mutate_text(rng, text, 3)

    def try_out(self, given: str) -> str:
        try:
            report = parse_report(given)
        except PathProfileError as error:
            check_one_line(error, 700)
            return "refused"
        for value in (report.level_dbm, report.snr_db):
            sure(value is None or -200.0 <= value <= 200.0, f"{given!r} is {value!r}")
        return "taken"
