"""The status page in headless Chromium, driven over the DevTools protocol through a pair of pipes: no port, no library.

The protocol (public, https://chromedevtools.github.io/devtools-protocol/) sets the width of the window exactly, also
below the narrowest window that the program itself would open, turns script off, asks for light, dark or paper, and
tells of every request and every error.
"""

from __future__ import annotations

import base64
import json
import os
import select
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

_QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-dev-shm-usage",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
    "--remote-debugging-pipe",
)  # fmt: skip
_PATIENCE_SECONDS = 120.0
# paper in inches: ISO 216 A4 is 210 mm x 297 mm, North American Letter (ANSI/ASME Y14.1 size A) 8.5 in x 11 in
PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}


class Browser:
    """One running Chromium. Messages are JSON ended by a zero byte: it reads descriptor 3 and writes descriptor 4."""

    def __init__(self, process: subprocess.Popen[bytes], writing: int, reading: int) -> None:
        self.process, self._writing, self._reading = process, writing, reading
        self._number, self._pending = 0, b""
        self.events: list[dict[str, Any]] = []

    def send(self, method: str, *, session: str = "", **parameters: Any) -> Any:
        """The answer to a command; events that arrive meanwhile are kept. Raises: AssertionError on an error."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if session:
            message["sessionId"] = session
        os.write(self._writing, json.dumps(message).encode() + b"\0")
        while True:
            heard = self._hear()
            if heard.get("id") == self._number:
                assert "error" not in heard, (method, heard["error"])
                return heard["result"]
            self.events.append(heard)

    def wait_for(self, method: str, *, session: str) -> None:
        """Until an event of this name was heard in this session."""
        while not any(one.get("method") == method and one.get("sessionId") == session for one in self.events):
            self.events.append(self._hear())

    def _hear(self) -> dict[str, Any]:
        end = time.monotonic() + _PATIENCE_SECONDS
        while b"\0" not in self._pending:
            ready, _, _ = select.select([self._reading], [], [], max(0.0, end - time.monotonic()))
            assert ready, f"Chromium did not answer within {_PATIENCE_SECONDS} seconds"
            part = os.read(self._reading, 1 << 20)
            assert part, "Chromium ended"
            self._pending += part
        message, _, self._pending = self._pending.partition(b"\0")
        heard = json.loads(message)
        assert isinstance(heard, dict)
        return heard


@contextmanager
def running_browser(folder: Path) -> Iterator[Browser]:
    """Headless Chromium with a profile of its own and without any background traffic."""
    to_browser, writing = os.pipe()
    reading, from_browser = os.pipe()
    # the shell puts our ends of the pipes where the program looks for them, whatever numbers they have here
    start = f'exec chromium "$@" 3<&{to_browser} 4>&{from_browser}'
    with subprocess.Popen(
        ["bash", "-c", start, "chromium", *_QUIET, f"--user-data-dir={folder / 'profile'}"],
        pass_fds=(to_browser, from_browser),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        os.close(to_browser)
        os.close(from_browser)
        browser = Browser(process, writing, reading)
        try:
            yield browser
            browser.send("Browser.close")
        finally:
            os.close(writing)
            os.close(reading)
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()


class Tab:
    """One page, opened at a given width; `width` is what the page itself sees as innerWidth."""

    def __init__(self, browser: Browser, *, width: int, height: int = 900, dark: bool = False, script: bool = True):
        self._browser = browser
        target = browser.send("Target.createTarget", url="about:blank")["targetId"]
        self._target = target
        self._session = browser.send("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.send(f"{domain}.enable")
        self.send("Network.setCacheDisabled", cacheDisabled=True)
        self.resize(width, height)
        self.show_as(dark=dark)
        if not script:
            self.send("Emulation.setScriptExecutionDisabled", value=True)

    def send(self, method: str, **parameters: Any) -> Any:
        return self._browser.send(method, session=self._session, **parameters)

    def resize(self, width: int, height: int = 900) -> None:
        narrow = width < 600
        self.send("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=narrow)

    def show_as(self, *, dark: bool = False, media: str = "") -> None:
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.send("Emulation.setEmulatedMedia", media=media, features=[scheme])

    def open(self, page: Path) -> Tab:
        self.send("Page.navigate", url=page.as_uri())
        self._browser.wait_for("Page.loadEventFired", session=self._session)
        return self

    def evaluate(self, expression: str) -> Any:
        """The value of an expression in the page, awaited where it is a promise. Raises: AssertionError if it throws.

        It works where the page's own script is turned off, too.
        """
        told = self.send("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in told, told["exceptionDetails"]
        return told["result"].get("value")

    def errors(self) -> list[str]:
        """Every uncaught error, every error on the console, and every complaint of the browser itself."""
        self.evaluate("0")  # whatever was said before this answer is heard with it
        found = []
        for event in self._heard():
            method, said = event["method"], event["params"]
            if (
                method == "Runtime.exceptionThrown"
                or (method == "Runtime.consoleAPICalled" and said["type"] in {"error", "warning", "assert"})
                or (method == "Log.entryAdded" and said["entry"]["level"] in {"error", "warning"})
            ):
                found.append(json.dumps(said))
        return found

    def requests(self) -> list[str]:
        """The address of everything that was asked for, the page itself first."""
        self.evaluate("0")
        sent = (one["params"] for one in self._heard() if one["method"] == "Network.requestWillBeSent")
        return [one["request"]["url"] for one in sent]

    def _heard(self) -> list[dict[str, Any]]:
        return [one for one in self._browser.events if one.get("sessionId") == self._session]

    def press(self, key: str, *, code: int = 0, text: str = "") -> None:
        """One key down and up, as a keyboard sends it."""
        shared = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        self.send("Input.dispatchKeyEvent", type="keyDown", **shared, **({"text": text} if text else {}))
        self.send("Input.dispatchKeyEvent", type="keyUp", **shared)

    def write(self, text: str) -> None:
        self.send("Input.insertText", text=text)

    def picture(self, *, whole: bool = False) -> bytes:
        shot = self.send("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        return base64.b64decode(shot["data"])

    def printed(self, paper: str) -> bytes:
        """The page as PDF on this paper, margins as the page asks for."""
        width, height = PAPERS[paper]
        told = self.send(
            "Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=True, preferCSSPageSize=False
        )
        return base64.b64decode(told["data"])

    def close(self) -> None:
        self._browser.send("Target.closeTarget", targetId=self._target)


def judged(tab: Tab, axe: Path) -> Any:
    """The violations that axe-core, a general accessibility checker, finds in an open page."""
    tab.evaluate(axe.read_text(encoding="utf-8") + ";0")
    return tab.evaluate(
        "axe.run(document,{resultTypes:['violations']}).then(result=>result.violations.map(v=>({id:v.id,"
        "impact:v.impact,nodes:v.nodes.slice(0,3).map(n=>n.html.slice(0,200))})))"
    )
