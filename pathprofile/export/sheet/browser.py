"""A browser on this machine, driven without a window through its own pipe; used to print and to picture."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from select import select
from typing import TYPE_CHECKING, Any

from pathprofile.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["BROWSERS", "Tab", "file_url", "find_browser", "open_tab"]

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
_PATIENCE_S = 60.0
# Those of the page's own style: 9, 10, 12 and 10 mm.
_MARGINS_IN = {"marginTop": 0.354, "marginRight": 0.394, "marginBottom": 0.472, "marginLeft": 0.394}
# The browser reads commands from descriptor 3 and answers on 4; a pipe's own numbers are others.
_HAND_OVER = (
    "import fcntl, os, sys; a, b = (fcntl.fcntl(int(n), fcntl.F_DUPFD, 10) for n in sys.argv[1:3]); "
    "os.dup2(a, 3); os.dup2(b, 4); os.execv(sys.argv[3], sys.argv[3:])"
)
_FLAGS = (
    "--headless=new",
    "--remote-debugging-pipe",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-dev-shm-usage",
    "--disable-extensions",
    "--disable-gpu",
    "--disable-sync",
    "--force-color-profile=srgb",
    "--hide-scrollbars",
    "--host-resolver-rules=MAP * ~NOTFOUND",  # nothing on a sheet needs a network, so none is to be had
    "--no-default-browser-check",
    "--no-first-run",
    "--no-proxy-server",
)


def find_browser() -> str | None:
    """Program of a browser that can be driven, None where there is none (or the system has no such pipes)."""
    if os.name != "posix":
        return None
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


class Tab:
    """One open page; ``events`` collects what the browser reported while a command was waited for."""

    def __init__(self, send: int, receive: int) -> None:
        self._send, self._receive = send, receive
        self._buffer = b""
        self._count = 0
        self._session: str | None = None
        self.events: list[dict[str, Any]] = []

    def attach(self) -> None:
        """Open an empty page and talk to it from now on."""
        target = self.command("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.command("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.command(f"{domain}.enable")

    def command(self, method: str, **values: Any) -> dict[str, Any]:
        """Send one command and wait for its answer.

        Raises
        ------
        OutputError
            When the browser refuses or does not answer within a minute.
        """
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": values}
        if self._session is not None:
            message["sessionId"] = self._session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self._send, data) :]
        while True:
            answer = self._read()
            if answer.get("id") == self._count:
                if "error" in answer:
                    raise OutputError(f"the browser refused {method}: {answer['error'].get('message')}")
                result: dict[str, Any] = answer["result"]
                return result
            if "method" in answer:
                self.events.append(answer)

    def open(self, url: str) -> None:
        """Load a page and wait until it is there."""
        self.events.clear()
        self.command("Page.navigate", url=url)
        deadline = time.monotonic() + _PATIENCE_S
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            if time.monotonic() > deadline:
                raise OutputError(f"the browser did not load {url!r}")
            self.evaluate("0")

    def evaluate(self, expression: str) -> Any:
        """Value of a script expression in the page.

        Raises
        ------
        OutputError
            When the script throws.
        """
        result = self.command(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in result:
            details = result["exceptionDetails"]
            raise OutputError(f"script: {details.get('exception', {}).get('description', details['text'])}")
        return result["result"].get("value")

    def resize(self, width: int, height: int, scale: float = 1.0, *, mobile: bool = False) -> None:
        """Set the size of the window in CSS pixels."""
        self.command(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=scale,
            mobile=mobile,
        )

    def pdf(self, width_in: float | None = None, height_in: float | None = None) -> bytes:
        """Print the page; paper of another size in inches where one is given."""
        values: dict[str, Any] = dict(_MARGINS_IN)
        if width_in is not None and height_in is not None:
            values |= {"paperWidth": width_in, "paperHeight": height_in}
        printed = self.command("Page.printToPDF", printBackground=True, **values)
        return base64.b64decode(printed["data"])

    def png(self, clip: dict[str, float] | None = None) -> bytes:
        """Picture of the window, or of a part of the page."""
        values: dict[str, Any] = {"format": "png", "captureBeyondViewport": True}
        if clip is not None:
            values["clip"] = {**clip, "scale": 1}
        return base64.b64decode(self.command("Page.captureScreenshot", **values)["data"])

    def _read(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            if not select([self._receive], [], [], _PATIENCE_S)[0]:
                raise OutputError(f"the browser did not answer within {_PATIENCE_S:.0f} s")
            piece = os.read(self._receive, 1 << 20)
            if not piece:
                raise OutputError("the browser ended before it answered")
            self._buffer += piece
        first, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(first)
        return message


@contextmanager
def open_tab(program: str) -> Iterator[Tab]:
    """Start a browser with a profile of its own, give one tab, and end both.

    Parameters
    ----------
    program : str
        From `find_browser`.
    """
    to_browser, send = os.pipe()
    receive, from_browser = os.pipe()
    with tempfile.TemporaryDirectory(prefix="pathprofile-", ignore_cleanup_errors=True) as folder:
        flags = [*_FLAGS, f"--user-data-dir={folder}"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            flags.append("--no-sandbox")  # its sandbox refuses to run for the superuser
        process = subprocess.Popen(  # noqa: S603 - a program found on this machine, with our own flags
            [sys.executable, "-c", _HAND_OVER, str(to_browser), str(from_browser), program, *flags],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(to_browser, from_browser),
        )
        os.close(to_browser)
        os.close(from_browser)
        tab = Tab(send, receive)
        try:
            tab.attach()
            yield tab
        finally:
            os.close(send)
            try:
                process.wait(timeout=10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
            os.close(receive)


def file_url(path: Path) -> str:
    """Address of a local file."""
    return path.resolve().as_uri()
