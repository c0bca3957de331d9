"""What leaves for the firmware: the header, the C detector, its vectors, and the checks that they are the rule."""
