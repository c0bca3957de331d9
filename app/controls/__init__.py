"""Small widgets that know nothing of falls: a switch, a slider on a scale, a number with a unit, a wrapped row."""
