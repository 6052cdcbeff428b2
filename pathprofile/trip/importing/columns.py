"""What the columns of a list are called, and a station made from the cells under them."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from pathprofile.places.locators import looks_like_locator
from pathprofile.trip.importing.entry import (
    Entry,
    UnclearError,
    plain_notes,
    read_claim,
    tidy_name,
)
from pathprofile.trip.importing.positions import agreed, read_place
from pathprofile.trip.importing.set_up_words import SetUpWords, role_in_name, role_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from pathprofile.places import Location

    _Cell = Callable[[str], str]

__all__ = ["COLUMNS", "OTHER_NAME", "POSITIONS", "entry_of", "field_and_unit", "is_place"]

# Words that head a column, in plain English and as neighbours write them; spaces, accents and letter case
# do not count.
COLUMNS = {
    "name": "name names call callsign station stationname operator who op title label rufzeichen stationsname"
    " indicatif indicativo nom nombre nome naam",
    "place": "place where position location coordinates coordinate coords gps latlon latlong qth town village"
    " koordinaten standort ort coordonnees lieu coordenadas lugar coordinate posizione coordinaten",
    "latitude": "latitude lat latitudedeg latdeg latdecimal breite breitengrad latitud"
    " latitudine breedtegraad",
    "longitude": "longitude lon long lng longitudedeg londeg londecimal lange laenge langengrad laengengrad"
    " longitud longitudine lengtegraad",
    "locator": "locator loc grid gridsquare gridlocator gridloc maidenhead qthlocator qthloc wwlocator square"
    " lokator locatore localizador",
    "distance": "distance dist range entfernung distanz distancia distanza afstand",
    "azimuth": "azimuth az bearing brg heading direction beam azimut acimut peilung richtung direzione"
    " rumbo cap koers",
    "frequency": "frequency freq frequencies qrg frequenz frequence frecuencia frequenza frequentie",
    "tone": "tone ctcss pl subtone ton tonalite tono toon",
    "bands": "band bands bander bande bandes banda bandas banden",
    "modes": "mode modes betriebsart betriebsarten modo modos modi",
    "power": "power pwr watts watt output leistung sendeleistung puissance potencia potenza vermogen",
    "shift": "shift offset rptshift repeatershift duplex ablage decalage desplazamiento",
    "antenna": "antenna antennas aerial ant antennatype gain antennagain antenne antennen antena antenas"
    " gewinn ganancia guadagno",
    "polarization": "polarization polarisation pol polarity polarizacion polarizzazione polarisatie",
    "height": "height antennaheight antheight agl heightagl mast hohe hoehe antennenhohe antennenhoehe"
    " hauteur"
    " altura altezza hoogte",
    "kind": "kind type category art typ tipo soort",
    "hours": "hours listening listeninghours listens times active activity zeiten horaire horaires horario"
    " orari",
    "zone": "timezone zone tz utcoffset zeitzone fuseauhoraire zonahoraria fusoorario tijdzone",
    "ground": "elevation altitude asl amsl heightasl ground altitud quota hoogtenn",
    "notes": "notes note comment comments remark remarks info description bemerkung bemerkungen kommentar"
    " remarque remarques commentaire observaciones notas commenti opmerking opmerkingen",
}
_FIELD_OF = {word: field for field, words in COLUMNS.items() for word in words.split()}
OTHER_NAME = "other name"
"""Field of a second column of names, such as the operator's beside the call sign."""
POSITIONS = {"place", "latitude", "longitude", "locator"}
_UNITS = (
    r"km|kms|mi|miles|nmi|nm|m|metres|meters|ft|feet|w|kw|mw|watts?|dbm|mhz|khz|ghz|hz|deg|degrees|°|true|mag|dbi|dbd"
    r"|utc(?:[+-]\d{1,2})?"
)
_BRACKETED = re.compile(r"[(\[]([^)\]]{0,30})[)\]]")
_TRAILING_UNIT = re.compile(rf"(?<=[\s_./-])(?:in\s+)?({_UNITS})\s*$", re.IGNORECASE)


def field_and_unit(cell: str) -> tuple[str | None, str]:
    """Field that a header stands for, and the unit in it."""
    text = cell.strip()[:80]
    unit = ""
    if bracketed := _BRACKETED.search(text):
        unit = bracketed[1].strip().casefold()
        text = _BRACKETED.sub(" ", text)
    elif trailing := _TRAILING_UNIT.search(text):
        unit = trailing[1].casefold()
        text = text[: trailing.start()]
    plain = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss"))
    word = "".join(character for character in plain if character.isalnum() and character.isascii())
    return _FIELD_OF.get(word), unit if re.fullmatch(_UNITS, unit) else ""


def entry_of(
    line: int, cells: Mapping[str, str], units: Mapping[str, str], location: Location | None = None
) -> Entry:
    """Station from the cells of a row.

    Parameters
    ----------
    line : int
        Where it stands.
    cells, units : mapping of str to str
        By field, a key of `COLUMNS` or `OTHER_NAME`; units are those of the headers.
    location : Location, optional
        Where the format itself gives the position.

    Raises
    ------
    UnclearError
        Without a usable name or position.
    """

    def cell(field: str) -> str:
        return cells.get(field, "")

    name, doubt = tidy_name(cell("name") or cell(OTHER_NAME) or _town_as_name(cell))
    other_name = cell(OTHER_NAME) if cell("name") else ""
    doubts: list[str] = []
    town = ""
    if location is None:
        location, doubts, town = _location(cell)
    words = SetUpWords()
    words.bands(cell("bands"))
    words.modes(cell("modes"))
    words.polarization(cell("polarization"))
    for read, field in (
        (words.frequency, "frequency"),
        (words.shift, "shift"),
        (words.tone, "tone"),
        (words.height, "height"),
        (words.power, "power"),
        (words.antenna, "antenna"),
    ):
        read(cell(field), units.get(field, ""))
    words.hours(cell("hours"), cell("zone") or units.get("hours", "") * bool(cell("hours")))
    role = role_of(cell("kind"))
    if not role and (role := role_in_name(name)) == "beacon":
        doubts.append("called a beacon, so taken as receive-only")
    if not role and (only_named := role_of(name)):
        doubts.append(f"its name speaks of a {only_named}; taken as a station that answers")
    words.finish(role)
    claim = read_claim(cell("distance"), units.get("distance", ""), cell("azimuth"))
    notes = "; ".join(part for part in (other_name, town, cell("notes"), *words.leftover) if part)
    return Entry(
        line,
        name,
        location,
        plain_notes(notes),
        receive_only=role == "beacon",
        set_up=words.set_up,
        listening_hours=words.listening_hours,
        time_zone=words.time_zone,
        assumed=tuple(words.assumed),
        claim=claim,
        doubts=(*([doubt] if doubt else []), *doubts, *words.doubts),
    )


def _location(cell: _Cell) -> tuple[Location, list[str], str]:
    """Position of a row, doubts about it, and the text of a place column that is the name of a town."""
    latitude, longitude, place, locator = map(cell, ("latitude", "longitude", "place", "locator"))
    town = ""
    if place and (latitude or locator) and not is_place(place):
        place, town = "", place
    if latitude or longitude:
        if not (latitude and longitude):
            raise UnclearError("only one of latitude and longitude is given")
        location = read_place(f"{latitude.replace(',', '.')}; {longitude.replace(',', '.')}")
    elif place:
        location = read_place(place)
    elif locator:
        return read_place(locator), [], town
    else:
        raise UnclearError("no position is given")
    doubts = []
    if locator and location.cell is None and (complaint := agreed(location, locator)):
        doubts.append(complaint)
    return location, doubts, town


def is_place(place: str) -> bool:
    """Whether a cell holds a position."""
    try:
        read_place(place)
    except UnclearError:
        return False
    return True


def _town_as_name(cell: _Cell) -> str:
    """Name of a row without one: the town, where the position stands in another column."""
    place = cell("place")
    has_other = bool(cell("latitude") or cell("locator"))
    return place if has_other and not looks_like_locator(place.upper()) else ""
