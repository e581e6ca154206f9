"""The shapes of verdicts on paper, the same as on screen: polygons on a grid of 24, upwards from the lower left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

_GRID = 24
Points = Sequence[tuple[float, float]]

_NUT = ((12, 1), (21.5, 6.5), (21.5, 17.5), (12, 23), (2.5, 17.5), (2.5, 6.5))
_BLACK: dict[str, tuple[Points, ...]] = {
    "bolts_on": (_NUT,),
    "with_companions": (
        ((9, 1), (16, 5), (16, 13), (9, 17), (2, 13), (2, 5)),
        ((18, 12), (23, 14.9), (23, 20.5), (18, 23.4), (13, 20.5), (13, 17.9), (16.5, 15.9), (17.5, 14.2)),
    ),
    "with_work": (
        (
            *((12, 1), (21.5, 6.5), (17.5, 8.7), (21.5, 10.9), (17.5, 13.1), (21.5, 15.3), (17.5, 17.5)),
            *((12, 23), (2.5, 17.5), (2.5, 6.5)),
        ),
    ),
    "likely": (_NUT,),
    "disputed": (((11, 1), (11, 21), (2, 15.8), (2, 6.2)), ((13, 3), (22, 8.2), (22, 17.8), (13, 23))),
    "wont_fit": (((2, 2), (17.5, 2), (2, 17.5)), ((22, 22), (6.5, 22), (22, 6.5))),
    "stop": (((3, 3), (21, 3), (21, 21), (3, 21)),),
}
_WHITE: dict[str, tuple[Points, ...]] = {
    "likely": (((12, 3.9), (5, 7.9), (5, 16.1), (12, 20.1), (19, 16.1), (19, 7.9)),),
    "stop": (((6.5, 10.5), (17.5, 10.5), (17.5, 13.5), (6.5, 13.5)),),
}
_HOLES = {"bolts_on": ((12, 12, 4),), "with_companions": ((9, 9, 3), (18, 18, 2)), "with_work": ((10.5, 12, 4),)}
_DOTS = {"likely": ((12, 12, 3.5),)}
_DASHED = {"unknown": ((12, 2.2), (20.5, 7.1), (20.5, 16.9), (12, 21.8), (3.5, 16.9), (3.5, 7.1))}


def draw_shape(canvas: Any, name: str, x: float, y: float, side: float) -> None:
    """Draw a verdict's shape, or ``stop``, into a square.

    Args:
        canvas: A reportlab canvas.
        name: A verdict, or ``stop``.
        x: Left end, points.
        y: Lower end, points.
        side: Of the square, points.
    """
    unit = side / _GRID

    def spot(point: tuple[float, float]) -> tuple[float, float]:
        return x + point[0] * unit, y + side - point[1] * unit

    canvas.saveState()
    for grey, polygons, circles in ((0, _BLACK, {}), (1, _WHITE, _HOLES), (0, {}, _DOTS)):
        canvas.setFillGray(grey)
        for points in polygons.get(name, ()):
            canvas.drawPath(_outline(canvas, [spot(point) for point in points]), stroke=0, fill=1)
        for middle_x, middle_y, radius in circles.get(name, ()):
            canvas.circle(*spot((middle_x, middle_y)), radius * unit, stroke=0, fill=1)
    if name in _DASHED:
        canvas.setLineWidth(1.8 * unit)
        canvas.setDash(4 * unit, 3.2 * unit)
        canvas.drawPath(_outline(canvas, [spot(point) for point in _DASHED[name]]), stroke=1, fill=0)
    canvas.restoreState()


def _outline(canvas: Any, points: Points) -> Any:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    path.close()
    return path
