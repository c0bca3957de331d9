"""Published rules beside the current settings, in the window's help."""

from __future__ import annotations

import pytest

from app.study import presets
from app.study.session import Session
from app.ui.about import AboutDialog
from detect.scoring.figures import figures
from detect.scoring.intervals import wilson
from tests.app.study_made import made, session_of


def test_what_was_published_stands_as_it_was_published():
    """Bagalà et al. 2012, PLoS ONE 7(5):e37062, abstract."""
    rows = {row.figure: (row.average, row.best) for row in presets.beside(Session())}
    assert rows["sensitivity"] == ("57.0 ± 27.3 %", "82.8 %")
    assert rows["specificity"] == ("83.0 ± 30.3 %", "98 %")
    assert rows["false alarms in 24 h"] == ("", "3 – 85")
    assert rows["falls"] == ("29, real", "")
    assert "Bagalà et al. 2012, PLoS ONE 7(5):e37062" in presets.SOURCE


def test_the_interval_that_is_named_is_that_of_29_falls():
    interval = wilson(round(0.57 * 29), 29)
    assert round(100 * (interval.high - interval.low) / 2) == 17
    assert any("some 17 points" in one for one in presets.WHY_NOT)


def test_this_study_stands_beside_it_with_a_rate_of_free_living_time_only():
    session = session_of(made())
    session.results()
    rows = {row.figure: (row.here, row.interval) for row in presets.beside(session)}
    cells = {cell.name: (cell.text, cell.interval) for cell in session.results().score.cells}
    assert rows["sensitivity"] == cells["sensitivity"]
    (free,) = [one for one in figures(session.found().score).unlabelled if one.setting == "free-living"]
    assert float(rows["false alarms in 24 h"][0]) == pytest.approx(free.alarms / free.hours * 24, abs=0.05)
    staged = session_of(made()[:-1])
    staged.results()
    assert {row.figure: row.here for row in presets.beside(staged)}["false alarms in 24 h"] == "no data"


def test_the_help_has_a_page_of_it(program, settled):
    program.bench.take_session(session_of(made()[:-1]))
    settled()
    next(one for one in program.window.actions() if one.text().startswith("About")).trigger()
    dialog = program.window.findChild(AboutDialog)
    assert [dialog.pages.tabText(i) for i in range(dialog.pages.count())] == ["Cautions", "Published rules", "Licences"]
    dialog.pages.setCurrentWidget(dialog.published)
    assert "sensitivity\t57.0 ± 27.3 %\t82.8 %\t33.3 %" in dialog.published.as_text()
    assert "can't be compared" in dialog.published.why.text()
    dialog.close()
