"""Circlips: retaining rings for shafts and bores, normal type.

Source: DIN 471:2011 (shafts) and DIN 472:2017 (bores), normal type.
"""

from __future__ import annotations

from dataclasses import dataclass

from stash.errors import InvalidInput, NotFound

_SHAFT = """
3 0.4 2.8 0.5|4 0.4 3.8 0.5|5 0.6 4.8 0.7|6 0.7 5.7 0.8|7 0.8 6.7 0.9|8 0.8 7.6 0.9|9 1 8.6 1.1|10 1 9.6 1.1
11 1 10.5 1.1|12 1 11.5 1.1|13 1 12.4 1.1|14 1 13.4 1.1|15 1 14.3 1.1|16 1 15.2 1.1|17 1 16.2 1.1|18 1.2 17 1.3
19 1.2 18 1.3|20 1.2 19 1.3|21 1.2 20 1.3|22 1.2 21 1.3|24 1.2 22.9 1.3|25 1.2 23.9 1.3|26 1.2 24.9 1.3|28 1.5 26.6 1.6
29 1.5 27.6 1.6|30 1.5 28.6 1.6|32 1.5 30.3 1.6|34 1.5 32.3 1.6|35 1.5 33 1.6
36 1.75 34 1.85|38 1.75 36 1.85|40 1.75 37.5 1.85
42 1.75 39.5 1.85|45 1.75 42.5 1.85|48 2 45.5 2.15|50 2 47 2.15
"""
"""Shaft, ring thickness, groove diameter, groove width in mm. Source: DIN 471."""
_BORE = """
8 0.8 8.4 0.9|9 0.8 9.4 0.9|10 1 10.4 1.1|11 1 11.4 1.1|12 1 12.5 1.1|13 1 13.6 1.1|14 1 14.6 1.1|15 1 15.7 1.1
16 1 16.8 1.1|17 1 17.8 1.1|18 1 19 1.1|19 1 20 1.1|20 1 21 1.1|21 1 22 1.1|22 1 23 1.1|24 1.2 25.2 1.3
25 1.2 26.2 1.3|26 1.2 27.2 1.3|28 1.2 29.4 1.3|30 1.2 31.4 1.3|31 1.2 32.7 1.3|32 1.2 33.7 1.3
34 1.5 35.7 1.6|35 1.5 37 1.6|36 1.5 38 1.6|37 1.5 39 1.6|38 1.5 40 1.6|40 1.75 42.5 1.85
42 1.75 44.5 1.85|45 1.75 47.5 1.85|47 1.75 49.5 1.85|48 1.75 50.5 1.85
50 2 53 2.15|52 2 55 2.15|55 2 58 2.15|56 2 59 2.15|58 2 61 2.15|60 2 63 2.15|62 2 65 2.15|63 2 66 2.15
65 2.5 68 2.65|68 2.5 71 2.65|70 2.5 73 2.65|72 2.5 75 2.65|75 2.5 78 2.65|78 2.5 81 2.65|80 2.5 83.5 2.65
"""
"""Bore, ring thickness, groove diameter, groove width in mm. Source: DIN 472."""


@dataclass(frozen=True, slots=True)
class Circlip:
    """A retaining ring.

    Args:
        form: ``shaft`` or ``bore``: what it goes on or in.
        nominal_mm: Shaft or bore diameter.
        thickness_mm: Of the ring.
        groove_mm: Groove diameter.
        groove_width_mm: Least width of the groove.
    """

    form: str
    nominal_mm: float
    thickness_mm: float
    groove_mm: float
    groove_width_mm: float

    @property
    def standard(self) -> str:
        """The standard it is made to."""
        return "DIN 471" if self.form == "shaft" else "DIN 472"

    def __str__(self) -> str:
        return f"{self.standard} {self.nominal_mm:g} x {self.thickness_mm:g}"


def _rows(form: str, table: str) -> dict[tuple[str, float], Circlip]:
    rows = [[float(cell) for cell in row.split()] for row in table.replace("\n", "|").split("|") if row]
    return {(form, row[0]): Circlip(form, *row) for row in rows}


CIRCLIPS = _rows("shaft", _SHAFT) | _rows("bore", _BORE)
"""``{(form, nominal_mm): circlip}``."""


def circlip(form: str, nominal_mm: float) -> Circlip:
    """Return the circlip for a shaft or a bore.

    Args:
        form: ``shaft`` or ``bore``.
        nominal_mm: Its diameter, mm.

    Raises:
        InvalidInput: Another form.
        NotFound: No such size in the table; the nearest ones are named.

    Source: DIN 471, DIN 472.
    """
    if form not in {"shaft", "bore"}:
        raise InvalidInput(f"{form!r} is not a form of circlip", "Use shaft or bore.")
    found = CIRCLIPS.get((form, nominal_mm))
    if found is None:
        sizes = sorted((size for each, size in CIRCLIPS if each == form), key=lambda size: abs(size - nominal_mm))
        near = " and ".join(f"{size:g}" for size in sorted(sizes[:2]))
        raise NotFound(f"No circlip for a {form} of {nominal_mm:g} mm is in the table", f"The nearest are {near} mm.")
    return found
