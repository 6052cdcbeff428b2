"""Valid samples to start from, made by the code itself or written by hand; all places are invented."""
# ruff: noqa: E501 - the lines of a sample are as long as its format has them

from __future__ import annotations

import datetime as dt
import functools
import tempfile
from pathlib import Path

from pathprofile.contact import Party, contact
from pathprofile.places import parse_location
from pathprofile.sample import sample_dir
from pathprofile.station import Station
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.prediction import save_prediction
from pathprofile.trip.starter import STARTER

__all__ = ["BOOKS", "LISTS", "LOGS", "PLACES", "prediction_text"]

PLACES = {
    "Gull Tor": "47.74833 -21.00083",
    "Marsh End": "46.29750 -20.93750",
    "Stone Row": "HN97oc",
    "Wick": "27T 504814 5127105",
}
BOOKS = (STARTER, (sample_dir() / "trip.toml").read_text(encoding="utf-8"))
LISTS = (
    (
        "csv",
        (
            "name,latitude,longitude,height,power,antenna,bands,notes\n"
            'Alder,46.5012,-21.2200,10,50,5-element beam,2m,"by the quay, blue door"\n'
            "Birch,46.7000,-21.1000,8m,25W,vertical,2m 70cm,\n"
            "Marsh End,46.2975,-20.9375,12,50,7-element beam,2m,as in the book\n"
            "Cairn,47.0,-21.5,,,,,too vague\n"
        ),
    ),
    ("csv", "Rufzeichen;Breite;Länge;Höhe\nEsche;46,5012;-21,2200;10,5\nTanne;46,71;-21,01;8\n"),
    ("csv", "call\tlocator\tdistance km\tazimuth\nAlder\tHN96jm\t120\t185\nBirch\tHN97aa12\t80\t190\n"),
    (
        "text",
        (
            "Hello all,\n\nI shall be at HN96jm with 50 W and a 5-element beam.\nAlder: 46°30.07'N 21°13.20'W, 2m, 10 m up\n"
            "> Birch - 46.7000, -21.1000 (receive only)\nCairn  27T 504814 5127105  70cm 10W\n\n73\n"
        ),
    ),
    (
        "gpx",
        (
            '<?xml version="1.0"?>\n<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">\n'
            '<wpt lat="46.5012" lon="-21.2200"><name>Alder</name><ele>120</ele><desc>2m 50 W</desc></wpt>\n'
            '<wpt lat="46.7" lon="-21.1"><name>Birch</name><cmt>70cm</cmt></wpt>\n</gpx>\n'
        ),
    ),
    (
        "kml",
        (
            '<?xml version="1.0"?>\n<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder>\n'
            "<Placemark><name>Alder</name><description>2m &amp; 70cm</description><Point><coordinates>"
            "-21.2200,46.5012,120</coordinates></Point></Placemark>\n<Placemark><name>Birch</name><Point>"
            "<coordinates>-21.1,46.7</coordinates></Point></Placemark></Folder></Document></kml>\n"
        ),
    ),
    (
        "geojson",
        (
            '{"type": "FeatureCollection", "features": [\n'
            '{"type": "Feature", "properties": {"name": "Alder", "power": "50 W", "bands": "2m"}, "geometry": {"type": '
            '"Point", "coordinates": [-21.2200, 46.5012]}},\n{"type": "Feature", "properties": {"name": "Birch"}, '
            '"geometry": {"type": "Point", "coordinates": [-21.1, 46.7, 80]}}]}\n'
        ),
    ),
)
LOGS = (
    (
        "time,station,band,mode,sent,received,remarks\n"
        "18:02,Marsh End,2m,ssb,57,55,\n18:10,Stone Row,2m,ssb,not heard,,called twice\n"
        '18:20,Wick,144.300,ssb,52,41,"fading, deep"\n18:30,Quay,70cm,fm,59+10,noisy,\n'
    ),
    (
        "Datum;UTC;Rufzeichen;QRG kHz;Betriebsart;gesendet;empfangen\n2026-06-14;18:02;Marsh End;144300;SSB;57;55\n"
        "2026-06-14;18:12;Wick;432200;CW;599;579\n"
    ),
    "name\theard\tmode\nMarsh End\ty\tssb\nStone Row\tn\tssb\nWick\t?\tfm\n",
)


@functools.cache
def prediction_text() -> str:
    """Make a saved prediction for a few stations of the sample island."""
    day = dt.date(2026, 6, 14)

    def party(name: str, unstated: str) -> Party:
        place = parse_location(PLACES[name], label=name)
        return Party(Station(name=name, place=PLACES[name]), place, unstated)  # type: ignore[arg-type]

    with TerrainStore.open([sample_dir()]) as store, tempfile.TemporaryDirectory() as folder:
        contacts = [
            contact(party("Gull Tor", "open"), party(name, "suburb"), store, date=day, frequency_mhz=144.3)
            for name in ("Marsh End", "Wick")
        ]
        path = Path(folder) / "a.prediction.json"
        save_prediction(contacts, path)
        return path.read_text(encoding="utf-8")
