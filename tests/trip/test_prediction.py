"""The prediction saved on the day: whole, unaltered, and refused in one line where it cannot be read."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from pathprofile import __version__
from pathprofile.contact import Contact, contact
from pathprofile.errors import OutputError, StationError
from pathprofile.sample import sample_dir
from pathprofile.terrain.store import TerrainStore
from pathprofile.trip.prediction import (
    SCHEMA,
    PredictedRow,
    digest_of,
    find_prediction,
    make_prediction,
    prediction_path,
    read_prediction,
    save_prediction,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

DAY = dt.date(2026, 6, 14)
_known: dict[str, Contact] = {}


@pytest.fixture
def from_gull_tor(islander: Callable[..., Any]) -> Callable[[str], Contact]:
    """A contact on the sample island, worked out once."""

    def make(name: str) -> Contact:
        if name not in _known:
            with TerrainStore.open([sample_dir()]) as store:
                _known[name] = contact(
                    islander("Gull Tor", unstated="open"),
                    islander(name),
                    store,
                    date=DAY,
                    frequency_mhz=144.3,
                )
        return _known[name]

    return make


def asked(rows: tuple[PredictedRow, ...]) -> PredictedRow:
    (row,) = (row for row in rows if row.asked)
    return row


def test_holds_the_figures_of_the_contact(from_gull_tor: Callable[[str], Contact]) -> None:
    known = from_gull_tor("Marsh End")
    prediction = make_prediction([known], book_digest="abc")
    assert (prediction.site, prediction.date, prediction.version) == ("Gull Tor", DAY, __version__)
    row = asked(prediction.rows)
    link = known.link
    assert link.out is not None
    assert row.out is not None
    assert row.back is not None
    assert (row.station, row.band, row.mode) == ("Marsh End", "2 m", "ssb")
    assert row.out.level_dbm == link.out.budget.level_dbm
    assert row.out.margin_db == pytest.approx(link.out.budget.margin_db)
    assert (row.out.s_reading, row.out.chance) == (link.out.budget.s_reading, link.out.chance)
    assert (row.chance, row.verdict) == (link.pair.chance, link.pair.verdict.word)
    assert row.out.sigma_db == pytest.approx(
        (row.path_db**2 + row.location_db**2 + row.noise_out_db**2) ** 0.5
    )


def test_other_modes_of_the_band_come_beside_it(from_gull_tor: Callable[[str], Contact]) -> None:
    known = from_gull_tor("Marsh End")
    rows = {row.mode: row for row in make_prediction([known]).rows}
    table = {row.mode: row for row in known.modes if row.band == "2 m"}
    assert len(rows) > 3
    for mode in rows.keys() - {"ssb"}:
        back = rows[mode].back
        assert back is not None
        assert back.margin_db == pytest.approx(table[mode].back_margin_db)
        assert back.level_dbm is None
        assert rows[mode].band == "2 m"


def test_what_is_read_is_what_was_saved(tmp_path: Path, from_gull_tor: Callable[[str], Contact]) -> None:
    path = tmp_path / "p.json"
    contacts = [from_gull_tor("Marsh End"), from_gull_tor("Tidewick")]
    saved = save_prediction(contacts, path, book_digest=digest_of("[trip]\n"))
    assert read_prediction(path) == saved
    assert saved.names() == ("Marsh End", "Tidewick")
    assert [row.asked for row in saved.by_station()["tidewick"]][:2] == [True, False]
    assert json.loads(path.read_text(encoding="utf-8"))["schema"] == SCHEMA


def test_an_earlier_prediction_stands(tmp_path: Path, from_gull_tor: Callable[[str], Contact]) -> None:
    path = tmp_path / "p.json"
    save_prediction([from_gull_tor("Marsh End")], path)
    before = path.read_bytes()
    with pytest.raises(OutputError, match=r"it exists already; choose another name or allow replacing"):
        save_prediction([from_gull_tor("Tidewick")], path)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["p.json"]


def test_refuses_contacts_that_do_not_belong_together(from_gull_tor: Callable[[str], Contact]) -> None:
    known = from_gull_tor("Marsh End")
    with pytest.raises(StationError, match=r"^no contact to save: a prediction needs at least one station$"):
        make_prediction([])
    with pytest.raises(StationError, match=r"^two contacts with 'Marsh End' on 2 m in SSB: save one$"):
        make_prediction([known, known])
    other_day = replace(known, reach=replace(known.reach, date=dt.date(2026, 6, 15)))
    with pytest.raises(
        StationError, match=r"^contacts from 'Gull Tor' on 2026-06-14 and .* one site and day"
    ):
        make_prediction([known, other_day])


def test_digest_is_sha_256_cut_short() -> None:
    # FIPS 180-4, example "abc": ba7816bf 8f01cfea ...
    assert digest_of("abc") == digest_of(b"abc") == "ba7816bf8f01cfea"


class TestFinding:
    def test_beside_the_book(self, tmp_path: Path) -> None:
        book = tmp_path / "trip.toml"
        path = prediction_path(book, "Gull Tor", DAY)
        assert path == tmp_path / "trip-Gull-Tor-2026-06-14.prediction.json"
        path.write_text("{}", encoding="utf-8")
        assert find_prediction(book) == path
        assert find_prediction(book, site="gull tor", date=DAY) == path

    def test_beside_the_sheet_or_the_book(self, tmp_path: Path) -> None:
        book, away = tmp_path / "trip.toml", tmp_path / "sheets"
        away.mkdir()
        path = prediction_path(book, "Gull Tor", DAY, folder=away)
        assert path == away / "trip-Gull-Tor-2026-06-14.prediction.json"
        path.write_text("{}", encoding="utf-8")
        with pytest.raises(StationError, match="no prediction saved beside"):
            find_prediction(book)
        assert find_prediction(book, folders=(tmp_path, away, away)) == path
        old = prediction_path(book, "Gull Tor", DAY)
        old.write_text("{}", encoding="utf-8")
        assert find_prediction(book, folders=(away,)) == old  # a copy of the same
        old.write_text("{ }", encoding="utf-8")
        with pytest.raises(StationError, match=r"prediction\.json differ: name the one of the day"):
            find_prediction(book, folders=(away,))

    def test_none(self, tmp_path: Path) -> None:
        with pytest.raises(
            StationError, match=r"^no prediction saved beside '.*trip\.toml': it is saved when"
        ):
            find_prediction(tmp_path / "trip.toml")
        prediction_path(tmp_path / "trip.toml", "Gull Tor", DAY).touch()
        with pytest.raises(StationError, match=r"^no prediction of 'Gull' for 2026-06-14 saved beside"):
            find_prediction(tmp_path / "trip.toml", site="Gull", date=DAY)

    def test_several(self, tmp_path: Path) -> None:
        for day in (14, 15):
            prediction_path(tmp_path / "trip.toml", "Gull Tor", dt.date(2026, 6, day)).touch()
        with pytest.raises(
            StationError, match=r"^2 predictions beside 'trip\.toml' \(.*\): name the site and the date$"
        ):
            find_prediction(tmp_path / "trip.toml", site="Gull Tor")
        assert find_prediction(tmp_path / "trip.toml", date=DAY).name.endswith("14.prediction.json")


def test_unknown_keys_of_the_same_edition_are_passed_over(
    tmp_path: Path, from_gull_tor: Callable[[str], Contact]
) -> None:
    path = tmp_path / "p.json"
    saved = save_prediction([from_gull_tor("Marsh End")], path)
    document = json.loads(path.read_text(encoding="utf-8"))
    document.update(schema="pathprofile.prediction/1.4", moon="full", version="9.0")
    document["rows"][0]["colour"] = "red"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert read_prediction(path).rows == saved.rows
    assert read_prediction(path).version == "9.0"


def _without(key: str) -> Callable[[dict[str, Any]], object]:
    return lambda document: document.pop(key)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        (
            lambda d: d.update(schema="pathprofile.prediction/2", version="3.1"),
            r"p\.json: saved as 'pathprofile\.prediction/2' by version 3\.1, .* version that saved it$",
        ),
        (lambda d: d.update(schema="other/1"), r"p\.json: no saved prediction: its schema is 'other/1'"),
        (_without("schema"), r"p\.json: no saved prediction: its schema is None"),
        (_without("site"), r"p\.json: site is missing: accepted one line of text"),
        (lambda d: d.update(date="soon"), r"p\.json: date is 'soon': accepted a date, such as 2026-06-14"),
        (lambda d: d.update(rows=[]), r"p\.json: rows is \[\]: accepted a list of at least one station"),
        (lambda d: d.update(rows=[3]), r"p\.json: rows\[0\] is 3: accepted an object"),
        (lambda d: d["rows"][0].pop("chance"), r"rows\[0\]\.chance is missing: accepted 0 to 1"),
        (lambda d: d["rows"][0].update(chance=1.5), r"rows\[0\]\.chance is 1\.5: accepted 0 to 1"),
        (lambda d: d["rows"][0].update(chance=True), r"rows\[0\]\.chance is True: accepted 0 to 1"),
        (lambda d: d["rows"][0].update(mode="smoke"), r"rows\[0\]\.mode is 'smoke': accepted a mode of this"),
        (lambda d: d["rows"][0].update(verdict="fine"), r"verdict is 'fine': accepted marginal, solid"),
        (lambda d: d["rows"][0].update(out=None, back=None), r"rows\[0\]\.out is None: accepted an object"),
        (lambda d: d["rows"][0]["out"].update(snr_db="x"), r"rows\[0\]\.out\.snr_db is 'x': accepted -1000"),
        (lambda d: d["rows"][0].pop("back"), r"rows\[0\]\.back is missing: accepted an object, or null"),
        (lambda d: d["rows"][0].update(asked=1), r"rows\[0\]\.asked is 1: accepted true or false"),
        (lambda d: d["rows"][0].update(station="a\nb"), r"rows\[0\]\.station is 'a\\nb': accepted one line"),
    ],
)
def test_refuses_in_one_line(
    tmp_path: Path,
    from_gull_tor: Callable[[str], Contact],
    change: Callable[[dict[str, Any]], object],
    match: str,
) -> None:
    path = tmp_path / "p.json"
    save_prediction([from_gull_tor("Marsh End")], path)
    document = json.loads(path.read_text(encoding="utf-8"))
    change(document)
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(StationError, match=match) as caught:
        read_prediction(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("raw", "match"),
    [
        (b"", r"no saved prediction: not JSON"),
        (b"\xff\xfe\x00", r"no saved prediction: not JSON"),
        (b'{"schema": NaN}', r"no saved prediction: not JSON \(NaN is no number\)"),
        (b"[1]", r"no saved prediction: a JSON list, not an object"),
        (b"[" * 100_000, r"no saved prediction: not JSON"),
    ],
    ids=["empty", "binary", "nan", "list", "nested"],
)
def test_refuses_what_is_no_prediction(tmp_path: Path, raw: bytes, match: str) -> None:
    (tmp_path / "p.json").write_bytes(raw)
    with pytest.raises(StationError, match=match):
        read_prediction(tmp_path / "p.json")


def test_refuses_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(
        StationError, match=r"^no saved prediction '.*': it is saved when the trip sheet is made"
    ):
        read_prediction(tmp_path / "p.json")
    with pytest.raises(StationError, match=r"^cannot read the prediction"):
        read_prediction(tmp_path)
