"""Inrush: what empty capacitors take when power comes on.

A capacitor alone, charged through a resistance from a stiff source. A load beside it and the resistance of
the capacitor itself are left out where nothing else is said. A large capacitor stays charged after power is
cut: measure before touching, and never discharge it by a short.
"""

import math


def _checked(farads: float, volts: float) -> None:
    if not (farads >= 0 and volts >= 0):
        raise ValueError(f"no such capacitor: {farads} F at {volts} V")


def charge(farads: float, volts: float) -> float:
    """Charge that a capacitor takes: farads × volts.

    farads: its capacitance [F]
    volts: it is charged to, from empty [V]
    Gives: [C], that is ampere seconds.
    Errors: ValueError for a negative capacitance or voltage.
    Source: definition of capacitance.
    """
    _checked(farads, volts)
    return farads * volts


def energy(farads: float, volts: float) -> float:
    """Energy that a capacitor holds: farads × volts² / 2.

    Charged through a resistance from a stiff source, as much again is lost in the resistance, whatever
    that is.

    farads: its capacitance [F]
    volts: across it [V]
    Gives: [J]
    Errors: ValueError for a negative capacitance or voltage.
    Source: closed form.
    """
    _checked(farads, volts)
    return farads * volts * volts / 2


def ramp_amps(farads: float, volts: float, rise_seconds: float, ohms: float = 0.0) -> float:
    """Greatest current into a capacitor while its source rises evenly from nothing.

    Without resistance it is C dV/dt all the time; with resistance it grows towards that and is greatest at
    the end of the rise: farads × volts / rise_seconds × (1 - exp(-rise_seconds / (ohms × farads))).

    farads: its capacitance [F]
    volts: of the source at the end [V]
    rise_seconds: from nothing to volts [s]
    ohms: of the path out and back; 0 gives the upper bound [ohm]
    Gives: [A]; what loads beside the capacitor take comes on top.
    Errors: ValueError for a negative capacitance, voltage or resistance, or a time that is not positive.
    Source: I = C dV/dt; closed form of the linear circuit.
    """
    _checked(farads, volts)
    if not (rise_seconds > 0 and ohms >= 0):
        raise ValueError(f"no such ramp: {rise_seconds} s through {ohms} ohm")
    settled = farads * volts / rise_seconds
    constant = ohms * farads
    return settled if constant == 0 else settled * -math.expm1(-rise_seconds / constant)


def first_peak(volts: float, ohms: float) -> float:
    """Current at the first moment when an empty capacitor is switched on hard: volts / ohms.

    volts: of the stiff source [V]
    ohms: of all in the path: source, wires, contacts, the capacitor's own series resistance [ohm]
    Gives: [A]; inductance of the wires makes the true peak lower.
    Errors: ValueError for a negative voltage or a resistance that is not positive.
    Valid: a switch, a relay, a hot plug. Nothing is said here of a source that limits its current.
    Source: Ohm's law.
    """
    if not (volts >= 0 and ohms > 0):
        raise ValueError(f"no such path: {volts} V, {ohms} ohm")
    return volts / ohms


def time_constant(ohms: float, farads: float) -> float:
    """Time in which the charging current falls to 1/e: ohms × farads.

    ohms: of the path out and back [ohm]
    farads: its capacitance [F]
    Gives: [s]
    Errors: ValueError for a negative resistance or capacitance.
    Source: closed form.
    """
    if not (ohms >= 0 and farads >= 0):
        raise ValueError(f"no such path: {ohms} ohm, {farads} F")
    return ohms * farads


def time_until(amps: float, farads: float, volts: float, ohms: float) -> float:
    """Time after a hard switch until the charging current is below a given one: RC ln(volts / (ohms × amps)).

    amps: to fall below, such as a rating [A]
    farads: its capacitance [F]
    volts: of the stiff source [V]
    ohms: of all in the path [ohm]
    Gives: [s]; 0 where even the first peak is not above it.
    Errors: ValueError for a current that is not positive, and as `first_peak` and `charge`.
    Source: closed form.
    """
    _checked(farads, volts)
    peak = first_peak(volts, ohms)
    if not amps > 0:
        raise ValueError(f"current of {amps} A is not positive: charging never ends")
    return 0.0 if peak <= amps else time_constant(ohms, farads) * math.log(peak / amps)


def amps_squared_seconds(farads: float, volts: float, ohms: float) -> float:
    """What a fuse sees of a hard switch: I² t of the whole charge, farads × volts² / (2 × ohms).

    farads: the capacitance [F]
    volts: of the stiff source [V]
    ohms: of all in the path, the fuse itself included [ohm]
    Gives: [A² s]; to be held against the melting I² t of the fuse, less its margin for repeated surges.
    Errors: as `first_peak` and `charge`.
    Source: closed form; the energy lost in the path over its resistance.
    """
    _checked(farads, volts)
    return first_peak(volts, ohms) * farads * volts / 2


def limited_seconds(farads: float, volts: float, amps: float) -> float:
    """Time that a source which holds its current at a limit needs to charge a capacitor: CV / amps.

    A source that gives up (hiccup, latch) before this time never starts the load.

    farads: its capacitance [F]
    volts: to be reached, from empty [V]
    amps: current limit of the source, less what other loads take meanwhile [A]
    Gives: [s]
    Errors: ValueError for a current that is not positive, and as `charge`.
    Source: I = C dV/dt.
    """
    if not amps > 0:
        raise ValueError(f"current of {amps} A is not positive: the capacitor is never charged")
    return charge(farads, volts) / amps
