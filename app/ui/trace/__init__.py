"""The trace of one recording: curves, lanes, threshold lines, playhead, nodes."""
