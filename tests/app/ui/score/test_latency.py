"""The latency chart alone, with made-up counts."""

from __future__ import annotations

import pyqtgraph as pg
import pytest
from PySide6.QtWidgets import QApplication

from app.ui.score.latency import LatencyBars


@pytest.mark.parametrize("highest", [0, 19])
def test_the_count_over_a_bar_at_an_edge_is_not_cut(qtbot, highest):
    counts = [3] * 20
    counts[highest] = 289
    bars = LatencyBars()
    qtbot.addWidget(bars)
    bars.show_bars([0.1 * i for i in range(21)], counts, counts)
    bars.resize(320, 180)
    bars.show()
    qtbot.waitExposed(bars)
    QApplication.processEvents()
    assert bars.plot is not None
    whole = bars.plot.box.sceneBoundingRect()
    written = [one for one in bars.plot.scene().items() if isinstance(one, pg.TextItem) and one.toPlainText() == "289"]
    assert len(written) == 2
    for one in written:
        box = one.mapRectToScene(one.boundingRect())
        assert whole.left() <= box.left() <= box.right() <= whole.right()
