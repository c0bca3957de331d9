"""The report as a browser shows it: nothing wrong, nothing asked of a network, readable, printed to a PDF."""

from __future__ import annotations

import json
import os
import re
import subprocess

import pytest

from app.study.report import dossier, pdf
from tests.app.study.report.test_dossier import tuned_session

BROWSER = pytest.mark.skipif(pdf.browser() is None and os.environ.get("PLUMBFALL_CI") != "1",
                             reason="chromium is not installed (Debian package chromium)")
"""In the whole check such a test fails instead."""


@pytest.fixture
def session(tmp_path):
    return tuned_session(tmp_path)


LOOK = """<script>
const bad = [], linear = (v) => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
const lum = (c) => { const [r, g, b] = c.match(/[\\d.]+/g).map(Number).map(linear);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const ground = (e) => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
  if (c && !/, 0\\)$/.test(c)) return c; } return "rgb(255, 255, 255)"; };
for (const e of document.querySelectorAll("body *")) {
  const text = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
  if (!text || e.closest("script, style")) continue;
  const s = getComputedStyle(e), fill = e.closest("svg") ? s.fill : s.color, a = lum(fill), b = lum(ground(e));
  const contrast = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  if (contrast < 4.5) bad.push(e.tagName + ":" + e.textContent.trim().slice(0, 30));
}
const head = document.querySelector("#table-by_person th button"); head.click(); head.click();
const names = [...document.querySelectorAll("#table-by_person tbody tr")].map((r) => r.cells[0].textContent);
document.title = JSON.stringify({ bad, names, resources: performance.getEntriesByType("resource").map((r) => r.name) });
</script></body>"""


@BROWSER
def test_in_a_browser_it_has_no_error_no_request_and_enough_contrast(session, tmp_path):
    """WCAG 2.1, 1.4.3: a contrast of at least 4.5:1 of text; measured in the page itself."""
    page = tmp_path / "r.html"
    pale = '<p style="color: #aaaaaa">pale</p>'  # to see that it would be found
    page.write_text(dossier.page_of(session, dossier.dossier(session)).replace("</body>", pale + LOOK))
    done = subprocess.run([pdf.require(), "--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr",
                           f"--user-data-dir={tmp_path / 'profile'}", "--dump-dom", page.as_uri()],
                          capture_output=True, text=True, timeout=120, check=True)
    seen = json.loads(re.search(r"<title>(.*?)</title>", done.stdout, re.DOTALL)[1])
    assert seen == {"bad": ["P:pale"], "names": ["W02", "W01"], "resources": []}
    assert [line for line in done.stderr.splitlines() if "CONSOLE" in line] == []


@BROWSER
def test_it_prints_to_a_pdf(session, tmp_path):
    dossier.write(session, tmp_path / "r.html")
    assert pdf.write(tmp_path / "r.html").read_bytes().startswith(b"%PDF-")
