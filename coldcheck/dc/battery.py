"""Batteries and what they hold up: run time, voltage under load, charging, and energy over a year.

A battery feeds a short with hundreds of amperes: fuse it close to its terminal, by a fuse that breaks that
current at that voltage, and cover both terminals while working. What is behind a mains socket is work for
those who are allowed to do it.
"""

import math

from coldcheck.dc import drop

HOURS_PER_YEAR = 8760.0
"""365 days [h]."""

WORN = 0.8
"""Share of its first capacity at which a battery counts as worn out. Common practice."""


def _share_checked(what: str, share: float) -> None:
    if not 0 < share <= 1:
        raise ValueError(f"{what} {share} is outside 0 (not included) to 1; write 80 % as 0.8")


def run_hours(
    watt_hours: float,
    usable: float,
    watts: float,
    efficiency: float = 1.0,
    exponent: float = 1.0,
    rated_hours: float = 20.0,
) -> float:
    """How long a battery holds up a load: watt_hours × usable × efficiency / watts, less by Peukert's law.

    watt_hours: rated energy, as for the rated hours, aged as it is (see `aged`) [Wh]
    usable: share that may be taken: some half of lead, most of lithium [-]
    watts: of the load, behind what converts between [W]
    efficiency: of what converts between battery and load [-]
    exponent: of Peukert's law; 1 where capacity does not depend on the load, 1.1 to 1.3 for lead [-]
    rated_hours: in which the rated energy was taken out; matters with an exponent alone [h]
    Gives: [h]
    Errors: ValueError for a share or efficiency outside (0, 1], a load or time that is not positive, a
        negative energy, or an exponent below 1.
    Valid: at room temperature; the cold takes a third and more. A load below the rated one gets the rated
        energy and no more. By power instead of current, which is the same as long as the voltage is.
    Source: conservation of energy; Peukert 1897, from memory; usual shares and exponents common practice.
    """
    _share_checked("usable share", usable)
    _share_checked("efficiency", efficiency)
    if not (watt_hours >= 0 and watts > 0):
        raise ValueError(f"no such load: {watts} W on {watt_hours} Wh")
    return usable * peukert_hours(watt_hours, rated_hours, exponent, watts / efficiency)


def peukert_hours(amp_hours: float, rated_hours: float, exponent: float, amps: float) -> float:
    """How long a battery gives a current until it is empty: rated_hours × (rated amps / amps)^exponent.

    amp_hours: rated charge [Ah]
    rated_hours: in which it was taken out; rated amps are amp_hours / rated_hours [h]
    exponent: 1 where capacity does not depend on the current; 1.1 to 1.3 for lead [-]
    amps: taken out [A]
    Gives: [h]; below the rated current amp_hours / amps, as no more than the rated charge is promised.
    Errors: ValueError for a current or time that is not positive, a negative charge, or an exponent below 1.
    Valid: lead, constant current, room temperature, between some tenth and ten times the rated current.
    Source: Peukert 1897, from memory; usual exponents common practice.
    """
    if not (amp_hours >= 0 and rated_hours > 0 and amps > 0):
        raise ValueError(f"no such battery: {amp_hours} Ah in {rated_hours} h, {amps} A taken")
    if not exponent >= 1:
        raise ValueError(f"exponent {exponent} is below 1")
    simple = amp_hours / amps
    # as a factor on the simple time, so that exponent 1 loses no digit
    return simple * math.pow(min(1.0, simple / rated_hours), exponent - 1)


def volts_under(load_watts: float, open_volts: float, ohms: float) -> float | None:
    """Voltage of a battery under a load of constant power, such as a converter: the upper root.

    load_watts: taken at the terminals [W]
    open_volts: without load [V]
    ohms: inside the battery, and of the leads where the load is behind them [ohm]
    Gives: [V]; None where the battery cannot give that power at all.
    Errors: as `drop.carried`.
    Source: closed form, see `drop.carried`.
    """
    found = drop.carried(open_volts, ohms, load_watts)
    return None if found is None else found[0]


def open_volts_at_cutoff(load_watts: float, cutoff_volts: float, ohms: float) -> float:
    """Voltage without load of a battery that reaches its cut-off under the load: it is not empty then.

    cutoff_volts + ohms × load_watts / cutoff_volts. Where that is a point which a load of constant power
    does not hold (cut-off below half of the voltage), the voltage collapses earlier, at 2 √(ohms × watts).

    load_watts: taken at the terminals [W]
    cutoff_volts: at which load or battery is switched off [V]
    ohms: inside the battery, and of the leads where the cut-off is behind them [ohm]
    Gives: [V]
    Errors: ValueError for a cut-off that is not positive, or a negative power or resistance.
    Source: Ohm's law; maximum power transfer theorem.
    """
    if not (cutoff_volts > 0 and ohms >= 0 and load_watts >= 0):
        raise ValueError(f"no such circuit: {cutoff_volts} V, {ohms} ohm, {load_watts} W")
    held = max(cutoff_volts, math.sqrt(ohms * load_watts))
    return held + ohms * load_watts / held


def aged(watt_hours: float, share: float = WORN) -> float:
    """Energy of a battery at the end of its life: watt_hours × share.

    watt_hours: rated, when new [Wh]
    share: of it that is left [-]
    Gives: [Wh]
    Errors: ValueError for a share outside (0, 1] or a negative energy.
    Source: common practice: worn out at 80 %.
    """
    _share_checked("share left", share)
    if not watt_hours >= 0:
        raise ValueError(f"negative energy: {watt_hours} Wh")
    return watt_hours * share


def charge_hours(watt_hours: float, charge_watts: float, efficiency: float) -> float:
    """How long a battery takes to charge: watt_hours / (charge_watts × efficiency).

    watt_hours: to be put back [Wh]
    charge_watts: that the charger takes for the battery, load beside it left out [W]
    efficiency: of charger and battery together: stored over taken [-]
    Gives: [h]; lead takes some hours more for the last part, where the current falls.
    Errors: ValueError for a power that is not positive, an efficiency outside (0, 1], or a negative energy.
    Source: conservation of energy.
    """
    _share_checked("efficiency", efficiency)
    if not (watt_hours >= 0 and charge_watts > 0):
        raise ValueError(f"no such charge: {watt_hours} Wh at {charge_watts} W")
    return watt_hours / (charge_watts * efficiency)


def watts_of(volt_amperes: float, power_factor: float) -> float:
    """Power of an AC load: volt_amperes × power_factor.

    volt_amperes: apparent power [VA]
    power_factor: 0.5 to 0.65 for small adapters, 0.9 and more for corrected supplies [-]
    Gives: [W]
    Errors: ValueError for a power factor outside (0, 1] or a negative power.
    Source: definition of the power factor; usual values common practice.
    """
    _share_checked("power factor", power_factor)
    if not volt_amperes >= 0:
        raise ValueError(f"negative power: {volt_amperes} VA")
    return volt_amperes * power_factor


def volt_amperes_of(watts: float, power_factor: float) -> float:
    """Apparent power of an AC load: watts / power_factor.

    watts: real power [W]
    power_factor: of the load [-]
    Gives: [VA]
    Errors: ValueError for a power factor outside (0, 1] or a negative power.
    Source: definition of the power factor.
    """
    _share_checked("power factor", power_factor)
    if not watts >= 0:
        raise ValueError(f"negative power: {watts} W")
    return watts / power_factor


def ups_use(watts: float, power_factor: float, rated_watts: float, rated_volt_amperes: float) -> float:
    """How far a UPS is loaded: the greater of its two shares, in watts and in volt-amperes.

    watts: real power of the loads together [W]
    power_factor: of the loads together [-]
    rated_watts: of the UPS [W]
    rated_volt_amperes: of the UPS [VA]
    Gives: [-]; above 1 is an overload.
    Errors: ValueError for a rating that is not positive, and as `volt_amperes_of`.
    Source: both ratings hold, definition.
    """
    if not (rated_watts > 0 and rated_volt_amperes > 0):
        raise ValueError(f"no such UPS: {rated_watts} W, {rated_volt_amperes} VA")
    return max(watts / rated_watts, volt_amperes_of(watts, power_factor) / rated_volt_amperes)


def _not_negative(watts: float) -> float:
    if not watts >= 0:
        raise ValueError(f"negative power: {watts} W")
    return watts


def kilowatt_hours_per_year(idle_watts: float, busy_watts: float, busy_share: float) -> float:
    """Energy of a year: 8.76 × (idle_watts × (1 - busy_share) + busy_watts × busy_share).

    idle_watts: taken while idle; at the wall for what a meter counts [W]
    busy_watts: taken while at work [W]
    busy_share: of the time at work, 0 to 1 [-]
    Gives: [kWh]
    Errors: ValueError for a share outside 0 to 1 or a negative power.
    Source: definition of energy; a year of 365 days.
    """
    if not 0 <= busy_share <= 1:
        raise ValueError(f"share {busy_share} of the time is outside 0 to 1")
    mean = _not_negative(idle_watts) * (1 - busy_share) + _not_negative(busy_watts) * busy_share
    return mean * HOURS_PER_YEAR / 1000
