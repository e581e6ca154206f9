"""Sums of an engine: displacement, compression, speed, acceleration, shaking force, balance."""

from __future__ import annotations

import math

from stash.bench.sums import Sum, not_negative, positive
from stash.errors import InvalidInput

SPEED_GUIDE_M_S = 20.32
"""Mean piston speed above which a small two-stroke is said to live dangerously: 4000 ft/min.

Source: Jennings, Two-Stroke Tuner's Handbook, 1973.
"""


def displacement_cm3(bore_mm: float, stroke_mm: float, cylinders: int = 1) -> Sum:
    """Return the volume the pistons sweep.

    Args:
        bore_mm: Bore, mm.
        stroke_mm: Stroke, mm.
        cylinders: How many.

    Returns:
        Displacement in cm³.

    Raises:
        InvalidInput: A size is not above zero.

    Source: geometry, pi/4 x bore² x stroke x cylinders.
    """
    positive(bore_mm=bore_mm, stroke_mm=stroke_mm, cylinders=cylinders)
    return Sum(
        key="displacement_cm3",
        name="displacement",
        value=_cylinder_cm3(bore_mm, stroke_mm) * cylinders,
        unit="cm³",
        source="geometry: pi/4 x bore² x stroke x cylinders",
        check="54 x 54.5 mm, one cylinder: 124.817 cm³",
        caution="May move a road vehicle into another class. Check your local rules or a licensed shop.",
    )


def compression_ratio_full_stroke(bore_mm: float, stroke_mm: float, chamber_cm3: float) -> Sum:
    """Return the compression ratio over the whole stroke, as most makers state it for four-strokes.

    Args:
        bore_mm: Bore, mm.
        stroke_mm: Stroke, mm.
        chamber_cm3: Volume above the piston at top dead centre, gasket and plug in, cm³.

    Returns:
        The ratio.

    Raises:
        InvalidInput: A size is not above zero.

    Source: geometry, (swept + chamber) / chamber.
    """
    positive(bore_mm=bore_mm, stroke_mm=stroke_mm, chamber_cm3=chamber_cm3)
    return Sum(
        key="compression_ratio_full_stroke",
        name="compression ratio, full stroke",
        value=(_cylinder_cm3(bore_mm, stroke_mm) + chamber_cm3) / chamber_cm3,
        unit=":1",
        source="geometry: (swept volume + chamber) / chamber, whole stroke",
        check="bore 54 mm, 28 mm of travel, chamber 8.5 cm³: 8.544",
        caution="Not to be compared with a ratio counted from exhaust-port closing, which is lower.",
    )


def compression_ratio_exhaust_closed(bore_mm: float, exhaust_top_mm: float, chamber_cm3: float) -> Sum:
    """Return the compression ratio from where the exhaust port closes, as two-stroke makers often state it.

    Args:
        bore_mm: Bore, mm.
        exhaust_top_mm: Travel left from the top edge of the exhaust port to top dead centre, mm.
        chamber_cm3: Volume above the piston at top dead centre, gasket and plug in, cm³.

    Returns:
        The ratio.

    Raises:
        InvalidInput: A size is not above zero.

    Source: geometry, (pi/4 x bore² x travel left + chamber) / chamber.
    """
    positive(bore_mm=bore_mm, exhaust_top_mm=exhaust_top_mm, chamber_cm3=chamber_cm3)
    return Sum(
        key="compression_ratio_exhaust_closed",
        name="compression ratio, from exhaust-port closing",
        value=(_cylinder_cm3(bore_mm, exhaust_top_mm) + chamber_cm3) / chamber_cm3,
        unit=":1",
        source="geometry: (trapped volume + chamber) / chamber, from exhaust-port closing",
        check="bore 54 mm, port closes 25 mm before the top, chamber 11.5 cm³: 5.979",
        caution="Not to be compared with a ratio over the full stroke, which is higher.",
    )


def mean_piston_speed_m_s(stroke_mm: float, speed_rpm: float) -> Sum:
    """Return the mean piston speed.

    Args:
        stroke_mm: Stroke, mm.
        speed_rpm: Crank speed, revolutions a minute.

    Returns:
        Metres a second.

    Raises:
        InvalidInput: A size is not above zero.

    Source: two strokes a revolution, 2 x stroke x speed / 60.
    """
    positive(stroke_mm=stroke_mm, speed_rpm=speed_rpm)
    value = 2 * stroke_mm / 1000 * speed_rpm / 60
    above = f"Above the guide of {SPEED_GUIDE_M_S} m/s (4000 ft/min): rings and rod suffer."
    return Sum(
        key="mean_piston_speed_m_s",
        name="mean piston speed",
        value=value,
        unit="m/s",
        source="2 x stroke x speed / 60; guide 4000 ft/min: Jennings, Two-Stroke Tuner's Handbook, 1973",
        check="2.68 in (68.072 mm) at 9000 rpm: 20.42 m/s",
        caution=above if value > SPEED_GUIDE_M_S else "",
    )


def no_load_margin_rpm(limit_rpm: float, no_load_rpm: float) -> Sum:
    """Return how far a carburettor's no-load setting stays below the limiter.

    Args:
        limit_rpm: Where the limiter cuts, revolutions a minute.
        no_load_rpm: Speed at full throttle without load, as set, revolutions a minute.

    Returns:
        Revolutions a minute; refused when the setting is not below the limiter.

    Raises:
        InvalidInput: A speed is not above zero.

    Source: common practice, no source.
    """
    positive(limit_rpm=limit_rpm, no_load_rpm=no_load_rpm)
    value = limit_rpm - no_load_rpm
    high = "Set it richer until it runs below the limiter: a limiter that cuts in hides a mixture that is too lean."
    return Sum(
        key="no_load_margin_rpm",
        name="no-load setting below the limiter",
        value=value,
        unit="rpm",
        source="common practice, no source: a no-load setting stays below the limiter",
        check="limiter 13600, set to 13300 rpm: 300 rpm below",
        caution="Guards on, nothing near what turns, and outside: carbon monoxide.",
        refused=high if value <= 0 else "",
    )


def peak_acceleration_m_s2(stroke_mm: float, rod_centres_mm: float, speed_rpm: float) -> Sum:
    """Return the piston's greatest acceleration, at top dead centre.

    Args:
        stroke_mm: Stroke, mm.
        rod_centres_mm: Connecting rod between centres, mm; more than half the stroke.
        speed_rpm: Crank speed, revolutions a minute.

    Returns:
        Metres a second squared.

    Raises:
        InvalidInput: A size is not above zero, or the rod is too short to turn.

    Source: second derivative of the slider-crank position at top dead centre, r x w² x (1 + r/L).
    """
    positive(stroke_mm=stroke_mm, rod_centres_mm=rod_centres_mm, speed_rpm=speed_rpm)
    ratio = _crank_ratio(stroke_mm, rod_centres_mm)
    return Sum(
        key="peak_acceleration_m_s2",
        name="peak piston acceleration",
        value=stroke_mm / 2000 * _radians_a_second(speed_rpm) ** 2 * (1 + ratio),
        unit="m/s²",
        source="slider-crank kinematics at top dead centre: r x w² x (1 + r/L)",
        check="stroke 43, rod 85 mm, 6000 rpm: 10634.79 m/s²",
        caution="It grows with the square of the speed.",
    )


def shaking_force_n(
    reciprocating_g: float, stroke_mm: float, rod_centres_mm: float, speed_rpm: float, crank_deg: float = 0.0
) -> Sum:
    """Return the force of the reciprocating mass along the cylinder.

    Args:
        reciprocating_g: Piston, rings, pin, clips, bearing and the rod's small-end share, g.
        stroke_mm: Stroke, mm.
        rod_centres_mm: Connecting rod between centres, mm; more than half the stroke.
        speed_rpm: Crank speed, revolutions a minute.
        crank_deg: Crank angle after top dead centre, degrees.

    Returns:
        Newtons, positive away from the crank.

    Raises:
        InvalidInput: A size is not above zero, or the rod is too short to turn.

    Source: first two orders of the slider-crank inertia force, m x r x w² x (cos a + r/L x cos 2a).
    """
    positive(reciprocating_g=reciprocating_g, stroke_mm=stroke_mm, rod_centres_mm=rod_centres_mm, speed_rpm=speed_rpm)
    ratio, angle = _crank_ratio(stroke_mm, rod_centres_mm), math.radians(crank_deg)
    radial = reciprocating_g / 1000 * stroke_mm / 2000 * _radians_a_second(speed_rpm) ** 2
    return Sum(
        key="shaking_force_n",
        name="shaking force",
        value=radial * (math.cos(angle) + ratio * math.cos(2 * angle)),
        unit="N",
        source="inertia force, first and second order: m x r x w² x (cos a + r/L x cos 2a)",
        check="17.39 % more mass (115 to 135 g) gives 17.39 % more force",
        caution="A heavier piston shakes more and loads rod and bearings more, unless the crank is balanced for it.",
    )


def shaking_force_change(mass_before_g: float, mass_after_g: float) -> Sum:
    """Return by how much the shaking force changes with the reciprocating mass, at the same speed.

    Args:
        mass_before_g: Reciprocating mass before, g.
        mass_after_g: Reciprocating mass after, g.

    Returns:
        Per cent, above zero for more.

    Raises:
        InvalidInput: A mass is not above zero.

    Source: the force is proportional to the mass, mass after / mass before - 1.
    """
    positive(mass_before_g=mass_before_g, mass_after_g=mass_after_g)
    value = (mass_after_g / mass_before_g - 1) * 100
    return Sum(
        key="shaking_force_change",
        name="change of the shaking force",
        value=value,
        unit="%",
        source="inertia force is proportional to the mass: mass after / mass before - 1",
        check="115 to 135 g: +17.39 %",
        caution="More force on rod, bearings and mounts at every speed." if value > 0 else "",
    )


def balance_factor_after(balance_factor: float, mass_before_g: float, mass_after_g: float) -> Sum:
    """Return the balance factor when the reciprocating mass changes and the counterweight does not.

    Args:
        balance_factor: Share of the reciprocating mass that was balanced, 0 to 1.
        mass_before_g: Reciprocating mass before, g.
        mass_after_g: Reciprocating mass after, g.

    Returns:
        The share that is balanced now.

    Raises:
        InvalidInput: A mass is not above zero, or the factor is not between 0 and 1.

    Source: the balanced mass stays what it was, factor x before / after.
    """
    positive(mass_before_g=mass_before_g, mass_after_g=mass_after_g)
    not_negative(balance_factor=balance_factor)
    if balance_factor > 1:
        raise InvalidInput(
            f"balance_factor: {balance_factor} is more than the whole mass", "Give a share, such as 0.5."
        )
    return Sum(
        key="balance_factor",
        name="balance factor",
        value=balance_factor * mass_before_g / mass_after_g,
        unit="",
        source="counterweight unchanged: factor x mass before / mass after",
        check="115 to 131 g at 0.50: 0.439",
        caution="Vibration moves to another speed and direction: mounts, fasteners and hands take it.",
    )


def _cylinder_cm3(bore_mm: float, length_mm: float) -> float:
    return math.pi / 4 * bore_mm**2 * length_mm / 1000


def _radians_a_second(speed_rpm: float) -> float:
    return speed_rpm * math.tau / 60


def _crank_ratio(stroke_mm: float, rod_centres_mm: float) -> float:
    if rod_centres_mm <= stroke_mm / 2:
        raise InvalidInput(
            f"rod_centres_mm: a rod of {rod_centres_mm} mm cannot turn on a stroke of {stroke_mm} mm",
            "Measure the rod from eye centre to eye centre.",
        )
    return stroke_mm / 2 / rod_centres_mm
