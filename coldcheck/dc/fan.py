"""Fans: speed, flow, current and noise at another voltage or speed."""

import math

OFFSET_VOLTS = 0.75
"""Lost before a 12 V fan turns at all, for its speed [V]: 0.5 to 1. Fan laws page (FL), read."""

START_VOLTS = (4.5, 7.0)
"""An ordinary 12 V fan does not start below the first, and starts from the second on [V].

Fan maker note (TOCH), read, and common practice. Not every fan: one strong 120 mm fan needs 7.5 V (F120).
"""

OVER = 1.1
"""Most over rated volts: a 12 V fan not above 13.2 V. Fan maker note (TOCH), read."""


def _ratio_checked(speed_ratio: float) -> None:
    if not speed_ratio >= 0:
        raise ValueError(f"no such speed: {speed_ratio} of the first")


def speed_share(volts: float, rated_volts: float = 12.0, offset: float = OFFSET_VOLTS) -> float:
    """Speed at a voltage over that at the rated one: (volts - offset) / (rated_volts - offset).

    volts: across the fan [V]
    rated_volts: at which its figures are published [V]
    offset: at which the speed would be nothing [V]
    Gives: [-]; also the flow over the rated flow, by the first fan law. 7 V makes about 0.55 of 12 V.
    Errors: ValueError for a negative voltage, or a rated one that is not above the offset.
    Valid: a fan that turns, without a speed control of its own, within its published range; see `starts`.
    Source: fan laws page (FL), read: "about proportional to V - 0.5..1 V".
    """
    if not (volts >= 0 and offset >= 0 and rated_volts > offset):
        raise ValueError(f"no such fan: {volts} V of {rated_volts} V, offset {offset} V")
    return max(0.0, volts - offset) / (rated_volts - offset)


def starts(volts: float, never: float = START_VOLTS[0], surely: float = START_VOLTS[1]) -> bool | None:
    """Tell whether a fan starts from rest at a voltage.

    volts: across the fan [V]
    never: below this it does not start [V]
    surely: from this on it starts; a published start voltage is both [V]
    Gives: whether it starts [-]; None in between, where it depends on the fan.
    Errors: ValueError for voltages that are negative or not in order.
    Valid: the values assumed hold for ordinary 12 V fans alone; some need more, so a published figure of
        the fan goes first.
    Source: START_VOLTS.
    """
    if not (volts >= 0 and 0 <= never <= surely):
        raise ValueError(f"no such fan: {volts} V, starts between {never} V and {surely} V")
    if volts < never:
        return False
    return True if volts >= surely else None


def most_volts(rated_volts: float) -> float:
    """Greatest voltage of a fan for which no range is published: 1.1 × rated_volts.

    rated_volts: printed on it [V]
    Gives: [V]
    Errors: ValueError for a voltage that is not positive.
    Valid: published for 12 V (13.2 V); others alike. Fans of high speed bear less (12.6 V, SA28), some
        more (13.8 V, SA15 and F120): a published range goes first.
    Source: fan maker note (TOCH), read.
    """
    if not rated_volts > 0:
        raise ValueError(f"rated voltage of {rated_volts} V is not positive")
    return OVER * rated_volts


def amps_at(
    volts: float, rated_amps: float, rated_volts: float = 12.0, offset: float = OFFSET_VOLTS
) -> float:
    """Current of a running fan at another voltage: its power goes with the third power of its speed.

    volts: across the fan [V]
    rated_amps: at the rated voltage [A]
    rated_volts: at which its figures are published [V]
    offset: see `speed_share` [V]
    Gives: rated_amps × speed share³ × rated_volts / volts [A]; 0 where it does not turn.
    Errors: ValueError for a negative current, and as `speed_share`.
    Valid: as `speed_share`, running, at equal efficiency. A start takes more, and a fan that is held fast
        as much as a start: use the published figures for those.
    Source: third fan law (FL), read; conservation of energy.
    """
    if not rated_amps >= 0:
        raise ValueError(f"negative current: {rated_amps} A")
    share = speed_share(volts, rated_volts, offset)
    return rated_amps * power_ratio(share) * rated_volts / volts if share > 0 else 0.0


def flow_ratio(speed_ratio: float) -> float:
    """Flow over the first flow: as the speed.

    speed_ratio: speed over the first speed [-]
    Gives: [-]
    Errors: ValueError for a negative ratio.
    Valid: the same fan in the same box, as for each of the fan laws.
    Source: fan laws (FL), read.
    """
    _ratio_checked(speed_ratio)
    return speed_ratio


def pressure_ratio(speed_ratio: float) -> float:
    """Pressure over the first pressure: as the square of the speed.

    speed_ratio: speed over the first speed [-]
    Gives: [-]
    Errors: ValueError for a negative ratio.
    Source: fan laws (FL), read.
    """
    _ratio_checked(speed_ratio)
    return speed_ratio**2


def power_ratio(speed_ratio: float) -> float:
    """Power over the first power: as the third power of the speed.

    speed_ratio: speed over the first speed [-]
    Gives: [-]
    Errors: ValueError for a negative ratio.
    Source: fan laws (FL), read.
    """
    _ratio_checked(speed_ratio)
    return speed_ratio**3


def noise_change(speed_ratio: float) -> float:
    """How much louder a fan gets: 50 log10(speed_ratio).

    speed_ratio: speed over the first speed [-]
    Gives: [dB]; negative for a slower fan.
    Errors: ValueError for a ratio that is not positive.
    Source: fan laws (FL), read.
    """
    if not speed_ratio > 0:
        raise ValueError(f"speed ratio {speed_ratio} is not positive: a fan at rest has no noise level")
    return 50 * math.log10(speed_ratio)


def noise_of_equals(count: int) -> float:
    """How much louder equal fans are than one of them: 10 log10(count).

    count: of fans that run together [-]
    Gives: [dB]
    Errors: ValueError for no fan.
    Source: fan laws (FL), read; sound powers add.
    """
    if count < 1:
        raise ValueError(f"no fan: {count}")
    return 10 * math.log10(count)


def tach_hertz(rpm: float, pulses: int = 2) -> float:
    """Frequency of the tach signal of a fan: pulses × rpm / 60.

    rpm: turns per minute [1/min]
    pulses: for each turn; 2 on PC fans [-]
    Gives: [Hz]
    Errors: ValueError for a negative speed or no pulse.
    Source: 4-Wire PWM Controlled Fans Specification (FAN4), read.
    """
    if not (rpm >= 0 and pulses >= 1):
        raise ValueError(f"no such tach: {rpm} rpm, {pulses} pulses")
    return pulses * rpm / 60
