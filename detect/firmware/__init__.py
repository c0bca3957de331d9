"""What leaves for the firmware: header, C detector, vectors, and the checks that they are the rule."""
