"""The device's what-ifs over the study in hand, without Qt."""
