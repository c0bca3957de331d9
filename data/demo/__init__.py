"""The demo study: synthetic falls and everyday life of eight invented wearers in home and garden.

Nobody fell for it and nobody wore a device: a seeded generator makes it from body mechanics. How it is built, from
the ground up:

- `mechanics`: free flight, toppling rod, half-sine landing; nothing else knows a formula of falling.
- `scene`: a recording while it grows, with labels and the facts of each drop.
- `motion`: everyday pieces at 50 Hz (rest, turn, gait, jog, work). `tumble`: pieces of a fall at 1 kHz.
- `falls`, `everyday`, `outings`: scripts of pieces. `plan`: who does what how often, and the hard cases: what goes
  wrong under the default settings, on purpose.
- `logger`: the device and who wears it. `write`: the plan carried out, as ordinary files.
"""

STUDY_NAME = "synthetic_porch_study.json"
NOTES = (
    "Synthetic demo study: made from body mechanics by a seeded generator. Nobody fell, nobody wore a device, the "
    "wearers W01 to W08 are invented. Good for learning the workbench, not for judging a detector."
)
"""Of its study, which are known by it: here, so that nobody loads the generator to ask."""
