"""Labels in the window: the label lane's actions, tables, checks, time offset."""
