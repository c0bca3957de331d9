"""Recordings of the open study: their samples, nodes, orientation, calibration, trimmed ends and quality."""
