"""O-rings by size code: inside diameter and cord.

Source: ISO 3601-1:2012, inside diameters and cross-sections by size code (dash number); up to 130 mm inside.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from stash.errors import InvalidInput, NotFound

_TABLE = """
cord 1.02
001 0.74
cord 1.27
002 1.07
cord 1.52
003 1.42
cord 1.78
004 1.78|005 2.57|006 2.90|007 3.68|008 4.47|009 5.28|010 6.07|011 7.65|012 9.25|013 10.82|014 12.42|015 14.00
016 15.60|017 17.17|018 18.77|019 20.35|020 21.95|021 23.52|022 25.12|023 26.70|024 28.30|025 29.87|026 31.47|027 33.05
028 34.65|029 37.82|030 41.00|031 44.17|032 47.35|033 50.52|034 53.70|035 56.87|036 60.05|037 63.22|038 66.40|039 69.57
040 72.75|041 75.92|042 82.27|043 88.62|044 94.97|045 101.32|046 107.67|047 114.02|048 120.37|049 126.72
cord 2.62
102 1.24|103 2.06|104 2.84|105 3.63|106 4.42|107 5.23|108 6.02|109 7.59|110 9.19|111 10.77|112 12.37|113 13.94
114 15.54|115 17.12|116 18.72|117 20.29|118 21.89|119 23.47|120 25.07|121 26.64|122 28.24|123 29.82|124 31.42|125 32.99
126 34.59|127 36.17|128 37.77|129 39.34|130 40.94|131 42.52|132 44.12|133 45.69|134 47.29|135 48.90|136 50.47|137 52.07
138 53.64|139 55.25|140 56.82|141 58.42|142 59.99|143 61.60|144 63.17|145 64.77|146 66.34|147 67.95|148 69.52|149 71.12
150 72.69|151 75.87|152 82.22|153 88.57|154 94.92|155 101.27|156 107.62|157 113.97|158 120.32|159 126.67
cord 3.53
201 4.34|202 5.94|203 7.52|204 9.12|205 10.69|206 12.29|207 13.87|208 15.47|209 17.04|210 18.64|211 20.22|212 21.82
213 23.39|214 24.99|215 26.57|216 28.17|217 29.74|218 31.34|219 32.92|220 34.52|221 36.09|222 37.69|223 40.87|224 44.04
225 47.22|226 50.39|227 53.57|228 56.74|229 59.92|230 63.09|231 66.27|232 69.44|233 72.62|234 75.79|235 78.97|236 82.14
237 85.32|238 88.49|239 91.67|240 94.84|241 98.02|242 101.19|243 104.37|244 107.54|245 110.72|246 113.89|247 117.07
248 120.24
249 123.42|250 126.59|251 129.77
cord 5.33
309 10.46|310 12.07|311 13.64|312 15.24|313 16.81|314 18.42|315 19.99|316 21.59|317 23.16|318 24.77|319 26.34|320 27.94
321 29.51|322 31.12|323 32.69|324 34.29|325 37.47|326 40.64|327 43.82|328 46.99|329 50.17|330 53.34|331 56.52|332 59.69
333 62.87|334 66.04|335 69.22|336 72.39|337 75.57|338 78.74|339 81.92|340 85.09|341 88.27|342 91.44|343 94.62|344 97.79
345 100.97|346 104.14|347 107.32|348 110.49|349 113.67|350 116.84|351 120.02|352 123.19|353 126.37|354 129.54
cord 6.99
425 113.67|426 116.84|427 120.02|428 123.19|429 126.37|430 129.54
"""
"""By cord in mm: size code and inside diameter in mm. Source: ISO 3601-1:2012."""
_CODE_DIGITS = 3


@dataclass(frozen=True, slots=True)
class ORing:
    """An O-ring: size code, inside diameter and cord, mm."""

    code: str
    inside_mm: float
    cord_mm: float

    @property
    def outside_mm(self) -> float:
        """Outside diameter, mm."""
        return round(self.inside_mm + 2 * self.cord_mm, 2)

    def __str__(self) -> str:
        return f"ISO 3601 {self.code}: {self.inside_mm:g} x {self.cord_mm:g} mm"


def _rows() -> dict[str, ORing]:
    found: dict[str, ORing] = {}
    cord = 0.0
    for line in _TABLE.strip().split("\n"):
        if line.startswith("cord "):
            cord = float(line.removeprefix("cord "))
            continue
        for row in line.split("|"):
            code, inside = row.split()
            found[code] = ORing(code, float(inside), cord)
    return found


O_RINGS = _rows()
"""``{size code: O-ring}``."""


def o_ring(code: str) -> ORing:
    """Return the O-ring of a size code.

    Args:
        code: Such as ``116``, ``-116`` or ``16`` for 016.

    Raises:
        InvalidInput: It is no size code.
        NotFound: No such code in the table.

    Source: ISO 3601-1:2012.
    """
    mark = re.fullmatch(r"\s*-?\s*(\d{1,3})\s*", code)
    if mark is None:
        raise InvalidInput(f"{code!r} is not an O-ring size code", "It has up to three digits, such as 116.")
    found = O_RINGS.get(mark.group(1).zfill(_CODE_DIGITS))
    if found is None:
        raise NotFound(f"O-ring {mark.group(1)} is not in the table", "Measure inside diameter and cord instead.")
    return found


def o_rings_by_size(
    inside_mm: float, cord_mm: float, within_inside_mm: float = 0.4, within_cord_mm: float = 0.15
) -> tuple[ORing, ...]:
    """Return the O-rings of a size, closest first; the cord counts more, because rubber stretches round its inside.

    Args:
        inside_mm: Measured inside diameter, mm.
        cord_mm: Measured cord, mm.
        within_inside_mm: How far the inside may be off, mm. Default: from memory.
        within_cord_mm: How far the cord may be off, mm. Default: from memory.
    """
    near = [
        (abs(row.cord_mm - cord_mm) / within_cord_mm + abs(row.inside_mm - inside_mm) / within_inside_mm, row.code)
        for row in O_RINGS.values()
        if abs(row.inside_mm - inside_mm) <= within_inside_mm and abs(row.cord_mm - cord_mm) <= within_cord_mm
    ]
    return tuple(O_RINGS[code] for _, code in sorted(near))
