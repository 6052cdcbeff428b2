"""Rasters made on the spot: flat, ridge, tilted plane, hole, seam, south-up, projected, turned."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

if TYPE_CHECKING:
    from pathlib import Path

Surface = Callable[[Any, Any], Any]


class RasterFactory:
    """Writes small rasters into a folder. Surfaces are functions of y (latitude) and x (longitude)."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def write(
        self,
        name: str,
        heights: np.ndarray,
        transform: Affine,
        *,
        crs: str | None = "EPSG:4326",
        nodata: float | None = None,
        **options: Any,
    ) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with rasterio.open(
            path,
            "w",
            driver=options.pop("driver", "GTiff"),
            width=heights.shape[1],
            height=heights.shape[0],
            count=1,
            dtype=heights.dtype,
            crs=crs,
            transform=transform,
            nodata=nodata,
            **options,
        ) as dataset:
            dataset.write(heights, 1)
        return path

    def nodes(
        self,
        name: str,
        surface: Surface,
        *,
        west: float,
        north: float,
        dx: float,
        dy: float,
        shape: tuple[int, int],
        south_up: bool = False,
        dtype: str = "float64",
        **options: Any,
    ) -> Path:
        """A raster whose first sample (north-west) lies exactly at (north, west)."""
        y = north - dy * np.arange(shape[0])[:, np.newaxis]
        x = west + dx * np.arange(shape[1])[np.newaxis, :]
        heights = np.broadcast_to(np.asarray(surface(y, x), float), shape).astype(dtype)
        transform = Affine(dx, 0, west - dx / 2, 0, -dy, north + dy / 2)
        if south_up:
            heights = heights[::-1]
            transform = Affine(dx, 0, west - dx / 2, 0, dy, north - dy * (shape[0] - 0.5))
        return self.write(name, heights, transform, **options)

    def square(
        self,
        south: int,
        west: int,
        surface: Surface,
        *,
        cells: int = 60,
        lon_cells: int | None = None,
        shared_edge: bool = True,
        name: str | None = None,
        **options: Any,
    ) -> Path:
        """A one-degree tile: with a shared edge row (cells + 1 samples), or without one (cells samples).

        Without one the samples start at the north-west corner and end one cell short of the others.
        """
        across = lon_cells or cells
        more = 1 if shared_edge else 0
        hemisphere = f"{'N' if south >= 0 else 'S'}{abs(south):02d}{'E' if west >= 0 else 'W'}{abs(west):03d}"
        return self.nodes(
            name or f"{hemisphere}.tif",
            surface,
            west=west,
            north=south + 1,
            dx=1 / across,
            dy=1 / cells,
            shape=(cells + more, across + more),
            **options,
        )

    def hgt(self, name: str, heights: np.ndarray) -> Path:
        """A plain .hgt: big-endian 16-bit samples, rows from the north."""
        path = self.folder / name
        path.write_bytes(heights.astype(">i2").tobytes())
        return path


@pytest.fixture
def rasters(tmp_path: Path) -> RasterFactory:
    folder = tmp_path / "tiles"
    folder.mkdir()
    return RasterFactory(folder)


def plane(y: Any, x: Any) -> Any:
    """A tilted plane of a few hundred metres a degree: bilinear interpolation is exact on it."""
    return 812.5 + 301.0 * (y - 46.0) - 173.0 * (x + 21.0)
