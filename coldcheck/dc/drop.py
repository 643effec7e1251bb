"""Voltage drop along one run, and what one run can carry."""

import math


def run_drop(length: float, amps: float, ohms_per_metre: float) -> float:
    """Voltage lost along one conductor: length × ohms_per_metre × amps.

    length: of the conductor, not doubled; right alone only where the return has no resistance [m]
    amps: current in it [A]
    ohms_per_metre: its resistance [ohm/m]
    Gives: [V]
    Source: Ohm's law; FAA AC 43.13-1B table 11-7 counts so, as an airframe is the return.
    """
    return length * ohms_per_metre * amps


def loop_drop(length_one_way: float, amps: float, ohms_per_metre: float) -> float:
    """Voltage lost out and back along a pair of equal conductors: twice `run_drop`.

    length_one_way: from source to load [m]
    amps: current in the pair [A]
    ohms_per_metre: resistance of one conductor [ohm/m]
    Gives: [V]
    Source: Ohm's law.
    """
    return 2 * run_drop(length_one_way, amps, ohms_per_metre)


def carried(volts: float, ohms: float, watts: float) -> tuple[float, float] | None:
    """Where a load of constant power settles at the end of a resistance: the upper operating point.

    The load's voltage v obeys v² - volts × v + ohms × watts = 0. The greater root is the one reached when
    the load is turned up from nothing; the current is then watts / v, which loses no digits however small
    the resistance.

    volts: of the stiff source [V]
    ohms: of the path, out and back [ohm]
    watts: asked by the load whatever its voltage [W]
    Gives: voltage at the load [V] and current [A]; None when watts > volts²/(4 × ohms), which no load can
        get.
    Errors: ValueError for a voltage that is not positive, or a negative resistance or power.
    Source: closed form; the bound is the maximum power transfer theorem.
    """
    if not (volts > 0 and ohms >= 0 and watts >= 0):
        raise ValueError(f"no such circuit: {volts} V, {ohms} ohm, {watts} W")
    if ohms > 0 and watts > volts * volts / (4 * ohms):
        return None
    # at the bound itself rounding may leave the root's argument a hair below zero
    at_load = (volts + math.sqrt(max(0.0, volts * volts - 4 * ohms * watts))) / 2
    return at_load, watts / at_load
