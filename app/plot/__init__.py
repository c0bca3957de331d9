"""What the trace is drawn with: a min/max pyramid, scales, curves, bands, lines that can be dragged."""
