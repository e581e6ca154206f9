"""Conversions between the units that old literature and new instruments use; both ways, exact.

Source: international yard and pound agreement, 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg); standard gravity
9.80665 m/s², CGPM 1901; ISO 80000-5 for temperature.
"""

from __future__ import annotations

MM_PER_IN = 25.4
CM3_PER_IN3 = 16.387064
M_S_PER_FT_MIN = 0.00508
G_PER_OZ = 28.349523125
NM_PER_LBF_FT = 1.3558179483314004


def mm_from_in(length_in: float) -> float:
    """Return inches in millimetres."""
    return length_in * MM_PER_IN


def in_from_mm(length_mm: float) -> float:
    """Return millimetres in inches."""
    return length_mm / MM_PER_IN


def cm3_from_in3(volume_in3: float) -> float:
    """Return cubic inches in cubic centimetres."""
    return volume_in3 * CM3_PER_IN3


def in3_from_cm3(volume_cm3: float) -> float:
    """Return cubic centimetres in cubic inches."""
    return volume_cm3 / CM3_PER_IN3


def m_s_from_ft_min(speed_ft_min: float) -> float:
    """Return feet a minute in metres a second."""
    return speed_ft_min * M_S_PER_FT_MIN


def ft_min_from_m_s(speed_m_s: float) -> float:
    """Return metres a second in feet a minute."""
    return speed_m_s / M_S_PER_FT_MIN


def g_from_oz(mass_oz: float) -> float:
    """Return avoirdupois ounces in grams."""
    return mass_oz * G_PER_OZ


def oz_from_g(mass_g: float) -> float:
    """Return grams in avoirdupois ounces."""
    return mass_g / G_PER_OZ


def nm_from_lbf_ft(torque_lbf_ft: float) -> float:
    """Return pound-force feet in newton metres."""
    return torque_lbf_ft * NM_PER_LBF_FT


def lbf_ft_from_nm(torque_nm: float) -> float:
    """Return newton metres in pound-force feet."""
    return torque_nm / NM_PER_LBF_FT


def c_from_f(temperature_f: float) -> float:
    """Return degrees Fahrenheit in degrees Celsius."""
    return (temperature_f - 32) / 1.8


def f_from_c(temperature_c: float) -> float:
    """Return degrees Celsius in degrees Fahrenheit."""
    return temperature_c * 1.8 + 32
