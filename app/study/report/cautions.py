"""What Plumbfall is not, and what binds a product that stands on it: named, never as met."""

from __future__ import annotations

CAUTIONS = (
    "Plumbfall is an engineering aid. It is not a medical device, it certifies nothing, and nobody's safety may "
    "rest on its figures alone.",
    "Local codes and licensed practice decide what a fall detector must do and who may say that it does it.",
    "Simulated falls by young volunteers flatter a detector: real falls of old people are slower, are broken by "
    "furniture and hands, and end in ways that nobody staged. Expect less in the field than on the bench.",
    "Figures hold for the recordings they come from: their people, placement, sensor and rate. Settings tuned on "
    "these people do worse on people not seen.",
)

OF_DEMO = ("The demo is synthetic, made from body mechanics by this program. It is good for learning the workbench, "
           "not for judging a detector.")

BINDING = (
    ("EN 50134", "social alarm systems"),
    ("IEC 62304", "medical device software: its life cycle"),
    ("ISO 14971", "medical devices: application of risk management"),
    ("IEC 60601-1", "medical electrical equipment: basic safety and essential performance"),
    ("IEC 60529", "degrees of protection by enclosures"),
    ("local rules", "radio, batteries and medical devices where it is sold"),
)
"""Among what a product must meet. This report claims to meet none of it."""

PUBLISHED = ("On 29 real falls thirteen published threshold rules kept a sensitivity of 57.0 ± 27.3 % (best 82.8 %) "
             "and a specificity of 83.0 ± 30.3 % (Bagalà et al. 2012, PLoS ONE 7(5):e37062).")
