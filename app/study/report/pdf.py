"""A report as PDF, printed by Chromium where that is installed."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from data.problem import Problem

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
WITHIN_S = 120
SANDBOX = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
"""Its sandbox can't be had by root, who has no need to print anything but a report of their own."""


def browser() -> str | None:
    """The first that is installed."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def require() -> str:
    found = browser()
    if found is None:
        raise Problem("no_browser", f"No Chromium found; looked for {', '.join(BROWSERS)}.", "Install one, or open the "
                      "report in any browser and print it to a PDF there.")
    return found


def write(page: Path) -> Path:
    """FILE.pdf beside FILE.html. Raises Problem where a browser is missing, or it fails."""
    program, to = require(), page.with_suffix(".pdf")
    with tempfile.TemporaryDirectory(prefix="plumbfall-") as profile:
        done = subprocess.run(
            [program, "--headless", *SANDBOX, "--disable-gpu", f"--user-data-dir={profile}",
             "--no-pdf-header-footer", f"--print-to-pdf={to.resolve()}", page.resolve().as_uri()],
            capture_output=True, text=True, timeout=WITHIN_S, check=False)
    if done.returncode or not to.is_file():
        said = (done.stderr.strip().splitlines() or ["nothing"])[-1]
        raise Problem("pdf", f"The browser did not print the report: {said}", "Open the report and print it by hand.",
                      file=page.name)
    return to
