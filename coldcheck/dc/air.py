"""Air: the flow that carries heat out of a box, and how warm it gets for the flow there is."""

import math

CFM = 0.3048**3 / 60
"""One cubic foot per minute [m3/s]."""

HEAT_CAPACITY = 1005.0
"""Of air at constant pressure [J/(kg K)]. Air flow articles (CUI) and forced-air page (IMF), read."""

GAS_CONSTANT = 287.05
"""Of dry air [J/(kg K)]. ISO 2533, from memory."""

SEA_LEVEL_PASCALS = 101325.0
"""Pressure of the standard atmosphere at sea level [Pa]. ISO 2533, from memory."""

LAPSE = 0.0065
"""How much colder the standard atmosphere gets with height [K/m]. ISO 2533, from memory."""

GRAVITY = 9.80665
"""[m/s2]"""

IN_A_BOX = (0.5, 0.7)
"""Flow of a fan built into a box over its free-air figure, least and most. Common practice."""

_ZERO_CELSIUS = 273.15
_SEA_LEVEL_KELVIN = 288.15


def standard_celsius(altitude: float) -> float:
    """Outdoor temperature of the standard atmosphere.

    altitude: above sea level [m]
    Gives: [degC]
    Errors: ValueError outside -1000 m to 11000 m.
    Source: ISO 2533 (ISA), from memory.
    """
    if not -1000 <= altitude <= 11000:
        raise ValueError(f"altitude {altitude} m is outside -1000 to 11000 m")
    return _SEA_LEVEL_KELVIN - LAPSE * altitude - _ZERO_CELSIUS


def pressure(altitude: float) -> float:
    """Air pressure of the standard atmosphere, outdoors and indoors alike.

    altitude: above sea level [m]
    Gives: 101325 × (1 - 0.0065 × altitude / 288.15)^5.256 [Pa]
    Errors: as `standard_celsius`.
    Source: ISO 2533 (ISA), from memory.
    """
    share = (standard_celsius(altitude) + _ZERO_CELSIUS) / _SEA_LEVEL_KELVIN
    return SEA_LEVEL_PASCALS * math.pow(share, GRAVITY / (GAS_CONSTANT * LAPSE))


def density(celsius: float = 20.0, pascals: float = SEA_LEVEL_PASCALS) -> float:
    """Density of dry air.

    celsius: its temperature [degC]
    pascals: its pressure; see `pressure` [Pa]
    Gives: [kg/m3]
    Errors: ValueError for a temperature not above absolute zero, or a pressure that is not positive.
    Valid: humid air of a room is up to 1 % lighter.
    Source: ideal gas law.
    """
    kelvin = celsius + _ZERO_CELSIUS
    if not (kelvin > 0 and pascals > 0):
        raise ValueError(f"no such air: {celsius} degC, {pascals} Pa")
    return pascals / (GAS_CONSTANT * kelvin)


def mass_flow(watts: float, rise: float) -> float:
    """Mass of air that carries heat away: watts / (heat capacity × rise).

    watts: heat; in a box all electrical power in, as none of it leaves by cable [W]
    rise: by which the air may get warmer on its way through [K]
    Gives: [kg/s]
    Errors: ValueError for a negative power or a rise that is not positive.
    Source: air flow articles (CUI), read; conservation of energy.
    """
    if not (watts >= 0 and rise > 0):
        raise ValueError(f"no such air flow: {watts} W for a rise of {rise} K")
    return watts / (HEAT_CAPACITY * rise)


def flow_needed(watts: float, rise: float, celsius: float = 20.0, altitude: float = 0.0) -> float:
    """Volume of air that carries heat away, as a fan moves it.

    Thin air needs more of it. The published density ratios of the standard atmosphere (0.864 at 1500 m)
    hold in the cold outdoors; a room of 20 degC up there has 0.834 of the density at sea level.

    watts: heat, all that is turned into it in the box [W]
    rise: by which the air may get warmer on its way through [K]
    celsius: of the air where the fan stands: the room's where it blows in, warmer where it draws out [degC]
    altitude: above sea level [m]
    Gives: [m3/s]; × 1 / CFM for cubic feet per minute.
    Errors: as `mass_flow`, `density` and `pressure`.
    Source: air flow articles (CUI), read; ISO 2533.
    """
    return mass_flow(watts, rise) / density(celsius, pressure(altitude))


def rise_for(watts: float, flow: float, celsius: float = 20.0, altitude: float = 0.0) -> float:
    """How much warmer air gets on its way through a box: the same law as `flow_needed`, turned round.

    watts: heat, all that is turned into it in the box [W]
    flow: that really goes through, see `in_a_box` [m3/s]
    celsius: of the air where the fan stands [degC]
    altitude: above sea level [m]
    Gives: [K]; the mean at the outlet, where a thing in still air gets warmer.
    Errors: ValueError for a negative power or a flow that is not positive, and as `density` and `pressure`.
    Source: air flow articles (CUI), read; conservation of energy.
    """
    if not (watts >= 0 and flow > 0):
        raise ValueError(f"no such air flow: {watts} W, {flow} m3/s")
    return watts / (flow * density(celsius, pressure(altitude)) * HEAT_CAPACITY)


def in_a_box(free_air: float) -> tuple[float, float]:
    """Flow to be expected of a fan once grilles, filters and cables resist it.

    free_air: flow on its data sheet, without anything before or behind [m3/s]
    Gives: least and most [m3/s].
    Errors: ValueError for a negative flow.
    Valid: an ordinary box; a filter full of dust passes less.
    Source: common practice: 50 % to 70 %.
    """
    if not free_air >= 0:
        raise ValueError(f"negative flow: {free_air} m3/s")
    return free_air * IN_A_BOX[0], free_air * IN_A_BOX[1]
