"""The demo study: synthetic falls and everyday life of eight invented wearers in home and garden.

Nobody fell for it and nobody wore a device: a seeded generator makes it from body mechanics. How it is built, from
the ground up:

- `mechanics`: free flight, toppling rod, half-sine landing; nothing else knows a formula of falling.
- `people`: who wears it. `scene`: a recording while it grows, with labels and the facts of each drop.
- `motion`: everyday pieces at 50 Hz (rest, turn, gait, jog, work). `tumble`: pieces of a fall at 1 kHz.
- `falls`, `everyday`, `outings`: scripts of pieces. `plan`: who does what how often.
- `logger`: the device. `files`: its text. `study`: the plan carried out. `write`: all of it as ordinary files.
- `hard_cases`: what goes wrong under the default settings, on purpose, as a table that the tests hold.
"""
