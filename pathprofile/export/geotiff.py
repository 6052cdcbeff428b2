"""Maps as Cloud-Optimized GeoTIFF: tiled, with overviews, and with tags that say what made them.

One file holds several bands of 32-bit numbers on one grid; a cell without a value holds ``NODATA``.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pathprofile import __version__
from pathprofile.area.in_sight import UNKNOWN as UNSEEN
from pathprofile.area.verdicts import UNKNOWN, UNLIKELY, WORDS
from pathprofile.atomic import write_atomically
from pathprofile.errors import OutOfRangeError, OutputError
from pathprofile.export.text import one_line

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import numpy.typing as npt

    from pathprofile.area.coverage import Coverage
    from pathprofile.area.grid import Grid
    from pathprofile.area.in_sight import InSight
    from pathprofile.area.verdicts import VerdictTable
    from pathprofile.places.location import Location

    Singles = npt.NDArray[np.float32]

__all__ = ["CAUTION", "NODATA", "SUFFIXES", "write_coverage_geotiff", "write_in_sight_geotiff"]

NODATA = -9999.0
SUFFIXES = (".tif", ".tiff")
CAUTION = (
    "A prediction is not a safety line: do not rely on it to call for help. "
    "Keep masts twice their height from power lines."
)
STEPS_A_DB = 64
"""Decibels are rounded to this fraction, which halves the file; the error is 0.008 dB at most."""

_TILE = 512
_ROWS_AT_ONCE = 512
_CACHE_MB = 64


@dataclass(frozen=True)
class _Band:
    """One layer: its name, unit and meaning, and the values of some rows."""

    name: str
    unit: str
    meaning: str
    rows: Callable[[slice], Singles]


def write_coverage_geotiff(
    path: Path | str,
    coverage: Coverage,
    *,
    verdicts: VerdictTable | None = None,
    seen: InSight | None = None,
    tiles: Mapping[str, str] | None = None,
    remarks: Mapping[str, object] | None = None,
    threads: int = 2,
    overwrite: bool = True,
) -> None:
    """Write the map of a coverage: loss, and where asked for margins, verdicts and what is in sight.

    Parameters
    ----------
    path : Path or str
        A name ending in ``.tif`` or ``.tiff``.
    coverage : Coverage
        The prediction.
    verdicts : VerdictTable, optional
        Adds a band for the margin of each direction that is worked, and one of verdicts.
    seen : InSight, optional
        Adds a band of what is in sight; its map must be that of the coverage.
    tiles : mapping of str to str, optional
        Elevation files and their checksums, for the tags.
    remarks : mapping of str to object, optional
        More tags, say mode, power and antennas.
    threads : int
        How many compress.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For another ending, and if the file cannot be written; nothing half-written stays behind.
    OutOfRangeError
        If maps do not fit together.

    Notes
    -----
    Decibels are rounded to 1/64. Overviews hold every second, fourth … cell, not means, which would make
    up verdicts that no cell has.
    """
    if seen is not None and seen.grid != coverage.grid:
        raise OutOfRangeError(
            f"what is in sight on {seen.grid!r}, coverage on {coverage.grid!r}: ask both for the same site, "
            "radius and cell"
        )
    loss = coverage.map_loss_db
    bands = [_Band("loss_db", "dB", "basic transmission loss", lambda rows: _rounded(loss[rows]))]
    tags: dict[str, object] = _coverage_tags(coverage)
    if verdicts is not None:
        needs = verdicts.needs
        for name, limit, way in (
            ("margin_out_db", needs.out_loss_db, "you → them"),
            ("margin_back_db", needs.back_loss_db, "them → you"),
        ):
            if limit is not None:
                bands.append(
                    _Band(name, "dB", f"margin over just readable copy, {way}", _margin(loss, limit))
                )
                tags["GREATEST_LOSS_" + name.removeprefix("margin_").upper()] = limit
        tags |= {
            "COMFORTABLE_COPY_NEEDS_LESS_LOSS_DB": needs.comfortable_db,
            "SPREAD_PATH_DB": needs.spread.path_db,
            "SPREAD_NOISE_OUT_DB": needs.spread.noise_out_db,
            "SPREAD_NOISE_BACK_DB": needs.spread.noise_back_db,
        }
        codes = ", ".join(f"{code} {word}" for code, word in enumerate(WORDS) if code != UNKNOWN)
        least = np.float32(UNLIKELY)

        def verdict_rows(rows: slice) -> Singles:
            found = verdicts.verdict(loss[rows]).astype(np.float32)
            found[found < least] = NODATA
            return found

        bands.append(_Band("verdict", "", f"verdict on a contact both ways: {codes}", verdict_rows))
    if seen is not None:
        bands.append(_seen_band(seen))
        tags["SEEN_TARGET_AGL_M"] = seen.target_agl_m
    title = f"Coverage from {_name(coverage.site)}"
    _write(path, coverage.grid, bands, title, tags, tiles, remarks, threads=threads, overwrite=overwrite)


def write_in_sight_geotiff(
    path: Path | str,
    seen: InSight,
    *,
    tiles: Mapping[str, str] | None = None,
    remarks: Mapping[str, object] | None = None,
    threads: int = 2,
    overwrite: bool = True,
) -> None:
    """Write the map of what is in sight; parameters and errors as for `write_coverage_geotiff`."""
    tags: dict[str, object] = {
        **_site_tags(seen.site),
        "EYE_AMSL_M": seen.eye_amsl_m,
        "SEEN_TARGET_AGL_M": seen.target_agl_m,
        "EFFECTIVE_EARTH_RADIUS_M": seen.effective_radius_m,
        "RESOLUTION_M": seen.resolution_m,
        "NOTES": "; ".join(seen.notes),
    }
    title = f"In sight from {_name(seen.site)}"
    bands = [_seen_band(seen)]
    _write(path, seen.grid, bands, title, tags, tiles, remarks, threads=threads, overwrite=overwrite)


def _coverage_tags(coverage: Coverage) -> dict[str, object]:
    return {
        **_site_tags(coverage.site),
        "METHOD": "ITU-R P.1812-8",
        "FREQUENCY_MHZ": coverage.frequency_mhz,
        "POLARIZATION": coverage.polarization,
        "TIME_PERCENT": coverage.time_percent,
        "SITE_GROUND_M": coverage.site_ground_m,
        "ANTENNA_AGL_M": coverage.antenna_agl_m,
        "RECEIVER_AGL_M": coverage.receiver_agl_m,
        "DELTA_N": coverage.atmosphere.delta_n,
        "N0": coverage.atmosphere.n0,
        "RADIALS": coverage.azimuth_deg.size,
        "RADIUS_M": float(coverage.distance_m[-1]),
        "RADIUS_ASKED_M": coverage.radius_m,
        "RESOLUTION_M": coverage.resolution_m,
        "BRIDGED_SHARE": coverage.bridged_share,
        "DECIBELS_ROUNDED_TO": f"1/{STEPS_A_DB}",
        "NOTES": "; ".join(coverage.notes),
    }


def _site_tags(site: Location) -> dict[str, object]:
    return {
        "SITE": site.label,
        "SITE_LATITUDE_DEG": site.latitude_deg,
        "SITE_LONGITUDE_DEG": site.longitude_deg,
    }


def _name(site: Location) -> str:
    return site.label or f"{site.latitude_deg:.5f} {site.longitude_deg:.5f}"


def _rounded(decibels: npt.NDArray[Any]) -> Singles:
    steps = np.rint(np.asarray(decibels, np.float32) * np.float32(STEPS_A_DB)) / np.float32(STEPS_A_DB)
    return np.asarray(np.where(np.isnan(steps), np.float32(NODATA), steps), np.float32)


def _margin(loss_db: Singles, limit_db: float) -> Callable[[slice], Singles]:
    return lambda rows: _rounded(np.float32(limit_db) - loss_db[rows])


def _seen_band(seen: InSight) -> _Band:
    def rows_of(rows: slice) -> Singles:
        found = seen.map_seen[rows].astype(np.float32)
        found[found == UNSEEN] = NODATA
        return found

    meaning = f"{seen.target_agl_m:g} m above the ground: 1 in sight, 0 hidden"
    return _Band("in_sight", "", meaning, rows_of)


def _write(
    path: Path | str,
    grid: Grid,
    bands: Sequence[_Band],
    title: str,
    tags: Mapping[str, object],
    tiles: Mapping[str, str] | None,
    remarks: Mapping[str, object] | None,
    *,
    threads: int,
    overwrite: bool,
) -> None:
    """Stage the bands uncompressed in a temporary folder, have them laid out, and move the file in place."""
    from rasterio.errors import RasterioError

    if Path(path).suffix.lower() not in SUFFIXES:
        raise OutputError(
            f"cannot write GeoTIFF into {str(path)!r}: give a name that ends in {' or '.join(SUFFIXES)}"
        )
    said = {
        "TIFFTAG_SOFTWARE": f"pathprofile {__version__}",
        "TIFFTAG_IMAGEDESCRIPTION": title,
        **tags,
        **{key.upper(): value for key, value in (remarks or {}).items()},
        "ELEVATION_FILES": json.dumps(dict(tiles or {}), ensure_ascii=False),
        "CAUTION": CAUTION,
    }
    with tempfile.TemporaryDirectory(prefix="pathprofile-") as folder:
        laid_out = Path(folder) / "map.tif"
        try:
            _lay_out(Path(folder) / "staged.tif", laid_out, grid, bands, said, threads)
        except (RasterioError, OSError) as error:
            raise OutputError(
                f"cannot write {str(path)!r}: {one_line(str(error))} (in the temporary folder {folder!r}; it "
                "may be full: make room or set TMPDIR to another)"
            ) from error
        with laid_out.open("rb") as made:
            write_atomically(path, lambda file: shutil.copyfileobj(made, file, 2**20), overwrite=overwrite)


def _lay_out(
    staged: Path,
    target: Path,
    grid: Grid,
    bands: Sequence[_Band],
    tags: Mapping[str, object],
    threads: int,
) -> None:
    import rasterio
    import rasterio.shutil
    from rasterio.enums import Resampling
    from rasterio.transform import Affine
    from rasterio.windows import Window

    height, width = grid.shape
    with rasterio.Env(GDAL_CACHEMAX=_CACHE_MB):
        with rasterio.open(
            staged,
            "w",
            driver="GTiff",
            width=width,
            height=height,
            count=len(bands),
            dtype="float32",
            nodata=NODATA,
            crs=grid.crs_wkt,
            transform=Affine(*grid.transform),
            tiled=True,
            blockxsize=_TILE,
            blockysize=_TILE,
            interleave="band",  # overviews of one band after the other: twenty times faster
        ) as raster:
            raster.update_tags(**{key: _text(value) for key, value in tags.items() if _text(value)})
            for i, band in enumerate(bands, start=1):
                raster.set_band_description(i, band.name)
                raster.set_band_unit(i, band.unit)
                raster.update_tags(i, MEANING=band.meaning)
                for top in range(0, height, _ROWS_AT_ONCE):
                    rows = slice(top, min(top + _ROWS_AT_ONCE, height))
                    raster.write(band.rows(rows), i, window=Window(0, top, width, rows.stop - top))
            factors = [2**n for n in range(1, 12) if max(height, width) > _TILE * 2 ** (n - 1)]
            if factors:
                raster.build_overviews(factors, Resampling.nearest)
        rasterio.shutil.copy(
            staged,
            target,
            driver="COG",
            blocksize=_TILE,
            compress="DEFLATE",
            level=1,
            predictor="YES",
            num_threads=threads,
            bigtiff="IF_SAFER",
        )
        with rasterio.open(target) as made:  # a full disk may show only now
            last = Window(width - 1, height - 1, 1, 1)
            made.read(window=last)


def _text(value: object) -> str:
    """Tag text: numbers as they are, anything else on one line."""
    return repr(float(value)) if isinstance(value, float) else one_line(str(value))
