"""Converters: what one takes in for what it gives out, and what stays as heat."""


def _efficiency_checked(out_watts: float, efficiency: float, standing: float) -> None:
    if not 0 < efficiency <= 1:
        raise ValueError(f"efficiency {efficiency} is outside 0 (not included) to 1; write 92 % as 0.92")
    if not (out_watts >= 0 and standing >= 0):
        raise ValueError(f"negative power: {out_watts} W out, {standing} W standing")


def input_power(out_watts: float, efficiency: float, standing: float = 0.0) -> float:
    """Power that a converter takes in: out_watts / efficiency + standing.

    out_watts: power given out, all rails together [W]
    efficiency: out over in at this load, standing draw left out [-]
    standing: power taken even with nothing connected; 0 where the efficiency already holds it [W]
    Gives: [W]
    Errors: ValueError for an efficiency outside (0, 1] or a negative power.
    Source: definition of efficiency.
    """
    _efficiency_checked(out_watts, efficiency, standing)
    return out_watts / efficiency + standing


def input_amps(out_watts: float, volts_in: float, efficiency: float, standing: float = 0.0) -> float:
    """Current that a converter takes in, step-down or step-up: input power / volts_in.

    out_watts: power given out, all rails together [W]
    volts_in: at the input of the converter; the lowest gives the most current [V]
    efficiency: out over in at this load, standing draw left out [-]
    standing: power taken even with nothing connected [W]
    Gives: [A]
    Errors: ValueError for a voltage that is not positive, and as `input_power`.
    Valid: a regulated converter within its input range: constant power to what feeds it.
    Source: definition of efficiency.
    """
    if not volts_in > 0:
        raise ValueError(f"input of {volts_in} V is not positive")
    return input_power(out_watts, efficiency, standing) / volts_in


def heat(out_watts: float, efficiency: float, standing: float = 0.0) -> float:
    """Power that stays in a converter as heat: out_watts × (1/efficiency - 1) + standing.

    Not (volts in - volts out) × amps × (1 - efficiency), which is in circulation and is wrong.

    out_watts: power given out, all rails together [W]
    efficiency: out over in at this load, standing draw left out [-]
    standing: power taken even with nothing connected [W]
    Gives: [W]
    Errors: as `input_power`.
    Source: conservation of energy.
    """
    _efficiency_checked(out_watts, efficiency, standing)
    return out_watts * (1 - efficiency) / efficiency + standing
