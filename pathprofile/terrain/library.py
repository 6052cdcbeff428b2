"""The raster library kept quiet, modest in memory, and off the network."""

from __future__ import annotations

import logging
import warnings
from pathlib import Path
from typing import Any

__all__ = ["library_errors", "library_settings", "open_dataset"]

# What the raster library may hold of its own, for files whose blocks do not fit ours.
_LIBRARY_BYTES = 32 * 2**20
_START_BYTES = 2**16
# A file may tell the library to fetch its samples from a server, directly or through another file that it
# names. The formats that do so are left out, files on servers are refused by name, and whatever else would
# go out is sent to a port of this machine where nothing listens.
_NOWHERE = "127.0.0.1:9"
_OFF_THE_NETWORK = {
    "GDAL_SKIP": "WMS WMTS WCS HTTP EEDA EEDAI DAAS PLMOSAIC PLSCENES STACIT STACTA OGCAPI NGW",
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "none",
    "GDAL_HTTP_PROXY": _NOWHERE,
    "GDAL_HTTPS_PROXY": _NOWHERE,
    "GDAL_HTTP_MAX_RETRY": "0",
}


def library_settings() -> Any:
    """Make the settings to open and read rasters under: little memory, no network."""
    import rasterio

    return rasterio.Env(GDAL_CACHEMAX=_LIBRARY_BYTES, **_OFF_THE_NETWORK)


def open_dataset(source: str) -> Any:
    """Open a raster quietly: complaints come as exceptions, never on the screen."""
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning

    if not source.startswith("/vsi"):
        # A text grid on a disk that fails at its start would keep the library reading for ever.
        with Path(source).open("rb", buffering=0) as file:
            file.read(_START_BYTES)
    logging.getLogger("rasterio").setLevel(logging.CRITICAL)
    # Where the locale knows no letters beyond ASCII, Python carries the bytes of a name in stand-ins.
    source = source.encode("utf-8", "surrogateescape").decode("utf-8", "surrogateescape")
    with warnings.catch_warnings(), library_settings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        return rasterio.open(source)


def library_errors() -> tuple[type[Exception], ...]:
    """All that the raster library raises for a file it cannot make sense of."""
    from rasterio.errors import RasterioError, RasterioIOError

    return RasterioError, RasterioIOError, UnicodeError, OverflowError, OSError
