"""Scales that a tester reads hardness on: their ends, their scatter, how deep their points feel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from model.conversion import Scale


@dataclass(frozen=True)
class HardnessScale:
    """What a reading on a scale is worth.

    low, high : what a reading on case-hardened steel may be; at either end it says no more than that the
        metal is as soft or softer, as hard or harder
    sd : scatter of one reading; temper_sd : what the temper's law adds after a temper, both in its own unit
    shallower : how many times less deep than Rockwell C's cone the metal is felt; Vickers' small
        load is taken to feel the face alone
    bias_share : how much of a machine's Rockwell C bias shows on it; machine : the kind that reads it
    """

    low: float
    high: float
    sd: float
    temper_sd: float
    shallower: float
    bias_share: float
    machine: Literal["rockwell", "vickers"] = "rockwell"


# Scatter of HRC: simulation study; HRA and HR15N a little over half of it, as a point of HRC is about half a
# point of theirs; HV about 1.5 HRC at 700 HV. The temper's law is good to 1 HRC
# (`hardness.temper_loss_rockwell`), taken as nine in ten. HRA's cone goes in about half as deep. For 15N the
# least thicknesses of ASTM E18 (memory, M: 0.008 in at 90, 0.006 in at 92, against 0.028 in for C at 62) are
# a quarter of those of C at equal hardness. ISO 6508-1: C from 20 to 70, further than E140 converts, and 15N
# from 70 to 94 (memory).
SCALES: Final[dict[Scale, HardnessScale]] = {
    "HRC": HardnessScale(20.0, 70.0, sd=1.5, temper_sd=0.61, shallower=1.0, bias_share=1.0),
    "HRA": HardnessScale(60.0, 86.0, sd=0.8, temper_sd=0.32, shallower=2.0, bias_share=0.5),
    "HR15N": HardnessScale(70.0, 94.0, sd=0.8, temper_sd=0.29, shallower=4.0, bias_share=0.5),
    "HV": HardnessScale(
        100.0, 1000.0, sd=25.0, temper_sd=10.0, shallower=1.0, bias_share=1.0, machine="vickers"
    ),
}
