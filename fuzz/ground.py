"""Targets that read what area work keeps or is given: masks of land, and results of pieces kept on disk."""
# ruff: noqa: D102 - the base class says what `make` and `try_out` are

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING, Any

import numpy as np

from fuzz.case import Target, check_one_line, sure
from fuzz.mutate import mutate_bytes, mutate_json, mutate_text
from pathprofile.area.mask import read_mask
from pathprofile.area.work import PieceStore
from pathprofile.errors import LocationError
from pathprofile.sample import sample_dir
from pathprofile.terrain.store import TerrainStore

if TYPE_CHECKING:
    from random import Random

__all__ = ["Masks", "Pieces"]

_RING = [[-21.5, 46.0], [-21.0, 46.0], [-21.0, 46.5], [-21.5, 46.5], [-21.5, 46.0]]
_HOLE = [[-21.3, 46.2], [-21.2, 46.2], [-21.2, 46.3], [-21.3, 46.2]]
_MASKS: tuple[dict[str, Any], ...] = (
    {"type": "Polygon", "coordinates": [_RING, _HOLE]},
    {
        "type": "Feature",
        "properties": {},
        "geometry": {"type": "MultiPolygon", "coordinates": [[_RING], [_HOLE]]},
    },
    {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32627"}},
        "features": [
            {
                "type": "Feature",
                "geometry": {
                    "type": "GeometryCollection",
                    "geometries": [
                        {
                            "type": "Polygon",
                            "coordinates": [[[5e5, 5e6], [6e5, 5e6], [6e5, 5.2e6], [5e5, 5e6]]],
                        }
                    ],
                },
            }
        ],
    },
)


class Masks(Target):
    """Masks of land in GeoJSON: one that is read answers for any place, with yes or no."""

    name = "masks of land"
    share = 3_000

    def make(self, rng: Random) -> bytes:
        text = json.dumps(rng.choice(_MASKS))
        how = rng.random()
        if how < 0.2:
            return mutate_bytes(rng, text.encode(), head=len(text))
        return (mutate_text(rng, text, 3) if how < 0.5 else mutate_json(rng, text)).encode(
            "utf-8", "surrogatepass"
        )

    def try_out(self, given: bytes) -> str:
        path = self.folder / "mask.geojson"
        path.write_bytes(given)
        try:
            mask = read_mask(path)
        except LocationError as error:
            check_one_line(error)
            return "refused"
        inside = mask.holds(np.array([46.1, 0.0, 90.0]), np.array([-21.4, 180.0, -180.0]))
        sure(inside.shape == (3,), f"{inside}")
        return "taken"


class Pieces(Target):
    """Results of pieces kept on disk, spoilt between two runs: as they were, or done again."""

    name = "kept pieces"
    share = 2_000

    def __init__(self) -> None:
        super().__init__()
        with TerrainStore.open(sample_dir()) as store:
            self._pieces = PieceStore(self.folder / "pieces", store)
        self._result = {"loss_db": np.linspace(90.0, 160.0, 500), "seen": np.arange(30) % 2 == 0}
        self._pieces.save(_task, 1, self._result)
        (self._file,) = self._pieces.folder.glob("piece-*.npz")
        self._whole = self._file.read_bytes()

    def make(self, rng: Random) -> bytes:
        if rng.random() < 0.05:
            single = io.BytesIO()
            np.save(single, np.arange(rng.randrange(9)))
            return single.getvalue()
        return mutate_bytes(rng, self._whole, head=rng.choice((100, len(self._whole))))

    def try_out(self, given: bytes) -> str:
        self._file.write_bytes(given)
        found = self._pieces.load(_task, 1)
        if found is None:
            return "refused"
        same = found.keys() == self._result.keys()
        sure(
            same and all(np.array_equal(found[name], self._result[name]) for name in found),
            "a piece has changed",
        )
        return "taken"


class _Task:
    """Something of which pieces are kept."""

    def __call__(self, piece: object, ground: object) -> dict[str, Any]:
        raise NotImplementedError

    def inputs(self) -> object:
        return ("fuzz", 1)


_task = _Task()
