"""Small widgets that know no topic: slider, number, switch, table, tabs."""
