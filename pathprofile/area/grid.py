"""The square map round a site: cells, and what a file needs to say where they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathprofile import geodesy
from pathprofile.area.radials import places_on_grid

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["Grid"]


@dataclass(frozen=True)
class Grid:
    """A square map in the azimuthal equidistant projection centred on a site, north up.

    The site is in the middle of the middle cell. Distance and true azimuth from the site are those of the
    WGS 84 geodesic, so that rays and rings need no other projection.

    Attributes
    ----------
    latitude_deg, longitude_deg : float
        The site [degrees].
    cell_m : float
        Side of a cell [m].
    half : int
        Cells on each side of the middle one.
    """

    latitude_deg: float
    longitude_deg: float
    cell_m: float
    half: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return (2 * self.half + 1, 2 * self.half + 1)

    @property
    def transform(self) -> tuple[float, float, float, float, float, float]:
        """Affine a … f: x = a column + b row + c, y = d column + e row + f, at the corners of cells [m]."""
        edge_m = (self.half + 0.5) * self.cell_m
        return (self.cell_m, 0.0, -edge_m, 0.0, -self.cell_m, edge_m)

    @property
    def crs_wkt(self) -> str:
        """Coordinate reference system as well-known text (OGC 01-009)."""
        return (
            f'PROJCS["Azimuthal equidistant around {self.latitude_deg:.6f} {self.longitude_deg:.6f}",'
            'GEOGCS["WGS 84",DATUM["WGS_1984",'
            'SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],'
            'AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],'
            'UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]],'
            f'PROJECTION["Azimuthal_Equidistant"],PARAMETER["latitude_of_center",{self.latitude_deg!r}],'
            f'PARAMETER["longitude_of_center",{self.longitude_deg!r}],PARAMETER["false_easting",0],'
            'PARAMETER["false_northing",0],UNIT["metre",1,AUTHORITY["EPSG","9001"]],'
            'AXIS["Easting",EAST],AXIS["Northing",NORTH]]'
        )

    def places(self, row: npt.ArrayLike, column: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Latitude and longitude of cell centres [degrees].

        Parameters
        ----------
        row, column : array_like of int
            Cells; any shapes that broadcast.
        """
        x = (np.asarray(column, np.float64) - self.half) * self.cell_m
        y = (self.half - np.asarray(row, np.float64)) * self.cell_m
        azimuth_deg = np.rad2deg(np.arctan2(x, y))
        return geodesy.direct(self.latitude_deg, self.longitude_deg, azimuth_deg, np.hypot(x, y))

    def places_of_rows(self, first: int, stop: int) -> tuple[Floats, Floats]:
        """Latitude and longitude of the cell centres of whole rows [degrees], (stop − first, columns)."""
        step = np.arange(-self.half, self.half + 1, dtype=np.float64) * self.cell_m
        half_m = self.half * self.cell_m
        return places_on_grid(self.latitude_deg, self.longitude_deg, half_m, step, step[::-1][first:stop])
