"""Help pages: written once, read in the window, in a browser and on a terminal."""
