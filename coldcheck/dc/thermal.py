"""Heat: how far things warm up, and what they may still carry where it is warm."""

import math

from coldcheck.dc import curve


def rise(heat_watts: float, kelvin_per_watt: float) -> float:
    """How far a thing warms above what surrounds it: heat_watts × kelvin_per_watt.

    heat_watts: power that stays in it as heat [W]
    kelvin_per_watt: its thermal resistance to the surroundings [K/W]
    Gives: [K]
    Errors: ValueError for a negative power or resistance.
    Valid: settled, for the mounting that the resistance was published for. Beyond the greatest
        temperature of the thing a result says that it cannot run so, not how hot it gets.
    Source: definition of thermal resistance.
    """
    if not (heat_watts >= 0 and kelvin_per_watt >= 0):
        raise ValueError(f"no such heat path: {heat_watts} W through {kelvin_per_watt} K/W")
    return heat_watts * kelvin_per_watt


def most_heat(ambient: float, hottest: float, kelvin_per_watt: float) -> float:
    """Greatest power that a thing may turn into heat: (hottest - ambient) / kelvin_per_watt.

    ambient: what surrounds it, inside the box [degC]
    hottest: it may get [degC]
    kelvin_per_watt: its thermal resistance to the surroundings [K/W]
    Gives: [W]; 0 where it is already too warm around it.
    Errors: ValueError for a resistance that is not positive or a temperature that is no number.
    Valid: as `rise`.
    Source: definition of thermal resistance.
    """
    if math.isnan(ambient) or math.isnan(hottest) or not kelvin_per_watt > 0:
        raise ValueError(f"no such heat path: {ambient} to {hottest} degC, {kelvin_per_watt} K/W")
    return max(0.0, hottest - ambient) / kelvin_per_watt


def derated(points: curve.Points, ambient: float) -> float | None:
    """Share of its rating that a supply may give at an ambient temperature.

    Straight between the published points, and the first share below the first of them.

    points: (ambient [degC], share of the rating, 1 for 100 % [-]), the ambient rising [degC, -]
    ambient: around the supply, inside the box [degC]
    Gives: [-]; above the last point 0 where the curve has come down to nothing, else None: nothing is
        published there, and the supply is not meant to run.
    Errors: ValueError for bad points, a share outside 0 to 1, or an ambient that is no number.
    Valid: for the mounting that the points were published for; a supply mounted otherwise has others.
    Source: data sheets publish it so, "100 % to 50 degC, 60 % at 60 degC" (WEL), read.
    """
    for _, share in curve.checked(points):
        if not 0 <= share <= 1:
            raise ValueError(f"share {share} of a rating is outside 0 to 1; write 60 % as 0.6")
    last, least = points[-1]
    if ambient > last:
        return 0.0 if least == 0 else None
    return curve.at(points, ambient)


def wire_rise(amps: float, ampacity: float, rated_rise: float) -> float:
    """How far a wire warms above what surrounds it: (amps / ampacity)² × rated_rise.

    The heat of a wire grows with the square of its current, and what it gives off with its rise.

    amps: in the wire [A]
    ampacity: of a table, for this way of laying it, bundle factor included [A]
    rated_rise: that the ampacity stands for: greatest temperature of the table less its ambient [K]
    Gives: [K]
    Errors: ValueError for an ampacity or a rated rise that is not positive, or a negative current.
    Valid: settled, up to the rated rise and a little more: hot copper resists more, which this leaves out.
        Minutes are needed to get there; a surge of seconds warms far less.
    Source: common practice; the ambient correction factors of NEC 310.15 follow the same law.
    """
    if not (amps >= 0 and ampacity > 0 and rated_rise > 0):
        raise ValueError(f"no such wire: {amps} A of {ampacity} A for a rise of {rated_rise} K")
    return (amps / ampacity) ** 2 * rated_rise


def amps_for_rise(allowed_rise: float, ampacity: float, rated_rise: float) -> float:
    """Current that warms a wire by no more than allowed: ampacity × √(allowed_rise / rated_rise).

    allowed_rise: what the insulation, or what lies beside it, bears less the ambient [K]
    ampacity: of a table, for this way of laying it, bundle factor included [A]
    rated_rise: that the ampacity stands for [K]
    Gives: [A]; 0 where no rise is left.
    Errors: ValueError for an ampacity or a rated rise that is not positive, or an allowed rise that is no
        number.
    Valid: as `wire_rise`.
    Source: NEC 310.15, the formula of its ambient correction, from memory.
    """
    if math.isnan(allowed_rise) or not (ampacity > 0 and rated_rise > 0):
        raise ValueError(f"no such wire: {ampacity} A for a rise of {rated_rise} K, {allowed_rise} K allowed")
    return ampacity * math.sqrt(max(0.0, allowed_rise) / rated_rise)
