"""The raster library kept quiet, modest in memory, off the network, and from writing."""

from __future__ import annotations

import logging
import warnings
from pathlib import Path
from typing import Any

__all__ = ["library_errors", "library_settings", "open_dataset"]

# What the raster library may hold of its own, for files whose blocks do not fit ours.
_LIBRARY_BYTES = 32 * 2**20
_START_BYTES = 2**16
# A file is what its first bytes say, not what its name says, and some formats name other files or servers to
# read from, or even a file to write to. So a file is taken only for one of the formats that hold heights
# themselves. Those that write or go out are left out of the library altogether, for a file beside a tile
# (.ovr, .msk) is opened as whatever it is. Files on servers are refused by name, code in files is not run,
# and whatever else would go out is sent to a port of this machine where nothing listens.
_FORMATS = [
    *("GTiff", "SRTMHGT", "AAIGrid", "GRASSASCIIGrid", "EHdr", "ENVI", "HFA", "DTED", "USGSDEM", "SDTS"),
    *("BT", "Terragen", "Leveller", "HF2", "SIGDEM", "AIG", "JP2OpenJPEG", "SAGA", "GSAG", "GSBG", "GS7BG"),
    *("RST", "XYZ", "GXF", "ZMap", "PCRaster", "NWT_GRD", "PNG", "LCP"),
]
_NOWHERE = "127.0.0.1:9"
_ON_ITS_OWN = {
    "GDAL_SKIP": "MRF,GTI,Zarr,netCDF,HDF5,HDF5Image,BAG,S102,S104,S111,WMS,WMTS,WCS,HTTP,EEDA,EEDAI,DAAS,"
    "PLMOSAIC,PLSCENES,STACIT,STACTA,OGCAPI,NGW,Rasterlite,MBTiles,GPKG,SQLite,ESRIC,KMLSUPEROVERLAY,PDS4",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    "GDAL_VRT_ENABLE_RAWRASTERBAND": "NO",
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "none",
    "GDAL_HTTP_PROXY": _NOWHERE,
    "GDAL_HTTPS_PROXY": _NOWHERE,
    "GDAL_HTTP_MAX_RETRY": "0",
}


def library_settings() -> Any:
    """Make the settings to open and read rasters under: little memory, no network."""
    import rasterio

    return rasterio.Env(GDAL_CACHEMAX=_LIBRARY_BYTES, **_ON_ITS_OWN)


def open_dataset(source: str) -> Any:
    """Open a raster quietly: complaints come as exceptions, never on the screen.

    Notes
    -----
    Formats are left out when the library starts. A program that used rasterio before it calls this package
    keeps them all; the list of formats for the file itself holds there too.
    """
    from rasterio.errors import NotGeoreferencedWarning
    from rasterio.io import DatasetReader

    if not source.startswith("/vsi"):
        # A text grid on a disk that fails at its start would keep the library reading for ever.
        with Path(source).open("rb", buffering=0) as file:
            file.read(_START_BYTES)
    logging.getLogger("rasterio").setLevel(logging.CRITICAL)
    # Where the locale knows no letters beyond ASCII, Python carries the bytes of a name in stand-ins.
    source = source.encode("utf-8", "surrogateescape").decode("utf-8", "surrogateescape")
    with warnings.catch_warnings(), library_settings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        return DatasetReader(source, driver=_FORMATS)


def library_errors() -> tuple[type[Exception], ...]:
    """All that the raster library raises for a file it cannot make sense of."""
    from rasterio.errors import RasterioError, RasterioIOError

    return RasterioError, RasterioIOError, UnicodeError, OverflowError, OSError
