"""Converters: what one takes in for what it gives out, what stays as heat, and when it lets go."""

from itertools import pairwise

from coldcheck.dc import curve


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


def efficiency_at(points: curve.Points, out_watts: float) -> float:
    """Efficiency at a load, from published points, straight between them and held outside.

    points: (power given out [W], efficiency [-]), the power rising [W, -]
    out_watts: power given out, all rails together [W]
    Gives: [-]
    Errors: ValueError for bad points, an efficiency outside (0, 1], a negative power, or two points by
        which a greater load would take less power in: no converter does that, one of them is a slip.
    Valid: between the points. Below the first the true efficiency falls towards nothing: add the standing
        draw there. Above the last nothing is published, and the rating ends there as a rule.
    Source: definition of efficiency; linear interpolation.
    """
    for watts, efficiency in curve.checked(points):
        _efficiency_checked(watts, efficiency, 0.0)
    for (lighter, less), (heavier, more) in pairwise(points):
        if not lighter / less < heavier / more:
            raise ValueError(
                f"efficiency {less} at {lighter} W and {more} at {heavier} W:"
                " by these the greater load would take no more power in"
            )
    if not out_watts >= 0:
        raise ValueError(f"negative power: {out_watts} W out")
    return curve.at(points, out_watts)


def taken(
    points: curve.Points, out_watts: float, lowest_volts: float, standing: float = 0.0
) -> tuple[float, float]:
    """Power and the greatest current that a converter takes in, by its efficiency curve.

    points: (power given out [W], efficiency [-]), see `efficiency_at` [W, -]
    out_watts: power given out, all rails together [W]
    lowest_volts: the least at its input, where the current is greatest [V]
    standing: power taken even with nothing connected; 0 where the curve already holds it [W]
    Gives: power [W] and current [A].
    Errors: as `efficiency_at` and `input_amps`.
    Valid: a regulated converter within its input range.
    Source: definition of efficiency; "worst at minimum V_in" (VB), read.
    """
    efficiency = efficiency_at(points, out_watts)
    watts = input_power(out_watts, efficiency, standing)
    return watts, input_amps(out_watts, lowest_volts, efficiency, standing)


def dropped_out(volts_in: float, volts_out: float, dropout: float) -> float:
    """Output of a step-down: what it is set to, or volts_in - dropout once it has lost regulation.

    Below volts_out + dropout the switch stays on all the time; the output then follows the input, and so
    does every ripple and dip of it. Many have an under-voltage lock-out above this and switch off
    instead: hold the input against the published least input first.

    volts_in: at the input of the converter [V]
    volts_out: what the output is set to [V]
    dropout: lost in switch and coil at this current; grows with it, so take the figure for the load [V]
    Gives: [V]
    Errors: ValueError for a negative voltage.
    Valid: a step-down alone: a step-up or a buck-boost holds its output down to its own least input.
    Source: common practice.
    """
    if not (volts_in >= 0 and volts_out >= 0 and dropout >= 0):
        raise ValueError(f"negative voltage: {volts_in} V in, {volts_out} V out, {dropout} V dropout")
    return min(volts_out, max(0.0, volts_in - dropout))
