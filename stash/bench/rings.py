"""Sums of rings and squish."""

from __future__ import annotations

from stash.bench.sums import Sum, not_negative, positive

LEAST_GAP_PER_BORE = 0.0035
"""Least end gap of a cast-iron ring, as a share of the bore. Source: ring makers' service literature."""
SUSPECT_GAP_PER_BORE = 0.008
"""End gap above which the bore is suspect. Source: ring makers' service literature."""
LEAST_SQUISH_MM = 0.6
"""Least squish of a small engine. Source: from memory."""


def ring_gap_least_mm(bore_mm: float) -> Sum:
    """Return the least end gap of a ring, ring square in the bore.

    Args:
        bore_mm: Bore, mm.

    Returns:
        Millimetres.

    Raises:
        InvalidInput: The bore is not above zero.

    Source: ring makers' service literature, cast-iron rings: 0.0035 x bore.
    """
    positive(bore_mm=bore_mm)
    return Sum(
        key="ring_gap_least_mm",
        name="least ring end gap",
        value=LEAST_GAP_PER_BORE * bore_mm,
        unit="mm",
        source="ring makers' service literature, cast-iron rings: 0.0035 x bore",
        check="bore 40 mm: 0.14 mm",
        caution="Too small a gap closes when hot and seizes. The maker's own figure goes before this one.",
    )


def ring_gap_per_bore(bore_mm: float, gap_mm: float) -> Sum:
    """Return a measured end gap as a share of the bore, and what it means.

    Args:
        bore_mm: Bore, mm.
        gap_mm: End gap by feeler, ring square in the bore, mm.

    Returns:
        The share; refused when the gap is too small to run.

    Raises:
        InvalidInput: The bore is not above zero, or the gap is below zero.

    Source: ring makers' service literature, cast-iron rings: 0.0035 at least; above 0.008 suspect the bore.
    """
    positive(bore_mm=bore_mm)
    not_negative(gap_mm=gap_mm)
    share = gap_mm / bore_mm
    tight = f"Too tight to run: file it to {LEAST_GAP_PER_BORE * bore_mm:.2f} mm or more."
    wide = "Wide: suspect the bore before the ring, and measure it."
    return Sum(
        key="ring_gap_per_bore",
        name="ring end gap per bore",
        value=share,
        unit="",
        source="ring makers' service literature, cast-iron rings: 0.0035 at least, above 0.008 suspect the bore",
        check="bore 40 mm, gap 0.20 mm: 0.005",
        caution=wide if share > SUSPECT_GAP_PER_BORE else "",
        refused=tight if share < LEAST_GAP_PER_BORE - 1e-12 else "",
    )


def squish_after_mm(
    squish_before_mm: float,
    *,
    compression_height_change_mm: float = 0.0,
    cylinder_height_change_mm: float = 0.0,
    gasket_change_mm: float = 0.0,
) -> Sum:
    """Return the squish when piston, cylinder or gasket changes; every change passes one to one.

    Args:
        squish_before_mm: Squish as measured before, mm.
        compression_height_change_mm: New compression height less old, mm: a taller crown takes squish away.
        cylinder_height_change_mm: New cylinder height less old, mm.
        gasket_change_mm: New gaskets less old, mm.

    Returns:
        Millimetres; refused when the piston would touch.

    Raises:
        InvalidInput: The squish before is below zero.

    Source: geometry; least squish 0.6 mm from memory.
    """
    not_negative(squish_before_mm=squish_before_mm)
    value = squish_before_mm - compression_height_change_mm + cylinder_height_change_mm + gasket_change_mm
    small = f"Less than {LEAST_SQUISH_MM} mm: measure it with soft solder before turning it over under power."
    return Sum(
        key="squish_mm",
        name="squish",
        value=value,
        unit="mm",
        source="geometry: squish - crown change + cylinder change + gasket change; least 0.6 mm from memory",
        check="1.0 mm, crown 0.3 mm taller, gasket 0.1 mm thicker: 0.8 mm",
        caution=small if 0 < value < LEAST_SQUISH_MM else "",
        refused="" if value > 0 else "The piston would touch the head.",
    )
