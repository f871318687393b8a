"""A headless browser without a network, for checking pages as a reader gets them."""

from __future__ import annotations

import json
import re
import shutil
from base64 import b64decode
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-extensions", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip


class Browser:
    """Chromium, driven by selenium.

    Parameters
    ----------
    profile : Path
        An empty folder for the browser's own data.
    """

    def __init__(self, profile: Path) -> None:
        program = shutil.which("chromium") or shutil.which("chromium-browser")
        driver = shutil.which("chromedriver")
        if program is None or driver is None:
            pytest.skip("Chromium is not installed (Debian: chromium, chromium-driver): pages are not checked")
        selenium = pytest.importorskip("selenium.webdriver", reason="selenium is not installed: pages are not checked")
        options = selenium.ChromeOptions()
        for flag in (*_FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.binary_location = program
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = selenium.Chrome(options=options, service=selenium.ChromeService(driver))

    def close(self) -> None:
        """End the browser."""
        self.driver.quit()

    def open(self, page: Path, *, width: int = 1200, height: int = 900, dark: bool = False) -> None:
        """Load a page from disk and wait until its pictures are decoded."""
        self.messages()
        self.driver.get_log("performance")
        self.look(width, height, dark)
        self.driver.get(page.resolve().as_uri())
        self.driver.execute_async_script(
            "const done = arguments[0];"
            "Promise.allSettled([...document.images].map(i => i.decode())).then(() => done());"
        )

    def look(self, width: int, height: int, dark: bool = False) -> None:
        """Change the window, and whether dark colours are preferred."""
        command = self.driver.execute_cdp_cmd
        command("Emulation.setDeviceMetricsOverride",
                {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})  # fmt: skip
        scheme = "dark" if dark else "light"
        command("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]})

    def run(self, script: str, *arguments: object) -> Any:
        """The value of a script's return statement."""
        return self.driver.execute_script(script, *arguments)

    def messages(self) -> list[str]:
        """What stands in the console since the last question: errors and warnings."""
        return [m["message"] for m in self.driver.get_log("browser") if m["level"] in ("SEVERE", "WARNING")]

    def requests(self) -> list[str]:
        """Addresses asked for since the page was opened, other than the page itself and what it carries within."""
        found = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked = message["params"]
                url, by = asked["request"]["url"], asked["documentURL"]
                if by == self.driver.current_url and url != by and not url.startswith(("data:", "blob:")):
                    found.append(url)
        return found

    def broken_pictures(self) -> list[str]:
        """Alternative texts of pictures that could not be decoded."""
        return list(self.run("return [...document.images].filter(i => !i.complete || !i.naturalWidth).map(i => i.alt)"))

    def overflow(self) -> int:
        """Pixels by which the page is wider than the window."""
        return int(self.run("return document.documentElement.scrollWidth - window.innerWidth"))

    def picture(self, file: Path) -> None:
        """Save the window as a PNG."""
        file.write_bytes(b64decode(self.driver.execute_cdp_cmd("Page.captureScreenshot", {})["data"]))

    def pdf(self) -> bytes:
        """The page as it would be printed."""
        asked = {"printBackground": True, "generateDocumentOutline": True}
        return b64decode(self.driver.execute_cdp_cmd("Page.printToPDF", asked)["data"])

    def printed(self) -> tuple[int, list[tuple[str, int, float]]]:
        """Sheets that the page takes in print; each heading, its sheet from 0 on, and points from the sheet's foot."""
        pdf = self.pdf()
        sheets = [int(n) for n in re.findall(rb"(\d+) 0 obj\s*<</Type /Page\b", pdf)]
        found = re.findall(rb"/Title (\([^)]*\)|<[^>]*>)\s*/Dest \[(\d+) 0 R /XYZ [\d.]+ ([\d.]+)", pdf)
        return len(sheets), [(_text(title), sheets.index(int(at)), float(up)) for title, at, up in found]

    @contextmanager
    def without_scripts(self) -> Iterator[None]:
        """As for a reader who lets no page run anything."""
        command = self.driver.execute_cdp_cmd
        command("Emulation.setScriptExecutionDisabled", {"value": True})
        try:
            yield
        finally:
            command("Emulation.setScriptExecutionDisabled", {"value": False})

    def accessibility(self) -> list[str]:
        """What axe-core finds wrong: rule, and the elements at fault."""
        pytest.importorskip("axe_core_python", reason="axe-core-python is not installed: accessibility is not checked")
        script = (resources.files("axe_core_python") / "axe.min.js").read_text("utf-8")
        self.run(script)
        found = self.driver.execute_async_script(
            "const done = arguments[0];"
            "axe.run().then(r => done(r.violations), e => done([{id: String(e), nodes: []}]));"
        )
        return [f"{v['id']}: {[n['target'] for n in v['nodes']][:3]}" for v in found]


def _text(token: bytes) -> str:
    """A text of a PDF (ISO 32000-1, 7.9.2.2)."""
    if token[:1] == b"(":
        return token[1:-1].decode("latin-1")
    return bytes.fromhex(token[1:-1].decode()).decode("utf-16")
