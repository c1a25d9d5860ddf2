"""Make the pictures of README.md from the demo, in Chromium.

    python tests/report/pictures.py

Writes reports/roster.png and reports/client.png: the beginning of each page.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
PICTURES = {"roster.png": ("index.html", 1080), "client.png": ("ines/latest.html", 800)}
"""Picture to page and height [px]."""
WIDTH = 1180


def main() -> None:
    """Run the demo in a temporary folder and photograph its pages."""
    chromium = os.environ.get("SETLEDGER_CHROMIUM") or shutil.which("chromium")
    if chromium is None:
        sys.exit("no chromium on the PATH; name one by SETLEDGER_CHROMIUM.")
    with tempfile.TemporaryDirectory() as folder:
        demo = Path(folder) / "harbour-lane"
        subprocess.run([sys.executable, "-m", "pipeline.cli", "demo", str(demo)], check=True)
        with sync_playwright() as running:
            browser = running.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            for name, (page_name, height) in PICTURES.items():
                page = browser.new_page(viewport={"width": WIDTH, "height": height})
                page.goto((demo / "out" / page_name).as_uri())
                page.screenshot(path=str(ROOT / "reports" / name))
            browser.close()


if __name__ == "__main__":
    main()
