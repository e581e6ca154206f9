from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from labels.errors import LabelError
from labels.layout import HOLE_RIM_MM, Box, Layout, Place, layout
from labels.stocks import bundled

SIDES = st.floats(8, 220).map(lambda value: round(value, 1))


def places() -> st.SearchStrategy[Place]:
    flat = st.builds(
        Place,
        SIDES,
        SIDES,
        st.one_of(st.just(0.0), st.floats(15, 80)),
        st.just(False),
        st.sampled_from([0.0, 4.0, 6.0]),
    )
    disc = st.builds(
        lambda side, qr_mm: Place(side, side, qr_mm, round=True, hole_mm=0.0),
        SIDES,
        st.one_of(st.just(0.0), st.floats(15, 80)),
    )
    return st.one_of(flat, disc)


def boxes(found: Layout) -> list[Box]:
    return [*found.symbols, found.code, *([found.words] if found.words else [])]


def overlap_mm(a: Box, b: Box) -> float:
    across = min(a.x_mm + a.w_mm, b.x_mm + b.w_mm) - max(a.x_mm, b.x_mm)
    down = min(a.y_mm + a.h_mm, b.y_mm + b.h_mm) - max(a.y_mm, b.y_mm)
    return min(across, down)


@settings(deadline=None)
@given(places())
def test_everything_stands_on_the_label_and_nothing_overlaps(place: Place) -> None:
    try:
        found = layout(place)
    except LabelError:
        return
    for index, box in enumerate(boxes(found)):
        assert box.x_mm >= -1e-6
        assert box.y_mm >= -1e-6
        assert box.x_mm + box.w_mm <= place.label_w_mm + 1e-6
        assert box.y_mm + box.h_mm <= place.label_h_mm + 1e-6
        for other in boxes(found)[index + 1 :]:
            assert overlap_mm(box, other) <= 1e-6


@settings(deadline=None)
@given(places())
def test_everything_on_a_disc_stays_within_its_circle(place: Place) -> None:
    try:
        found = layout(place)
    except LabelError:
        return
    if place.round:
        centre = place.label_w_mm / 2
        for box in boxes(found):
            for x in (box.x_mm, box.x_mm + box.w_mm):
                for y in (box.y_mm, box.y_mm + box.h_mm):
                    assert math.hypot(x - centre, y - centre) <= centre + 1e-6


@settings(deadline=None)
@given(places())
def test_a_hole_keeps_its_rim_clear(place: Place) -> None:
    try:
        found = layout(place)
    except LabelError:
        return
    if found.hole:
        reach = place.hole_mm / 2 + HOLE_RIM_MM
        x, y = found.hole
        ring = Box(x - reach, y - reach, 2 * reach, 2 * reach)
        assert all(overlap_mm(ring, box) <= 1e-6 for box in boxes(found))


def test_a_label_without_room_for_words_shows_symbol_and_code_only() -> None:
    found = layout(bundled()["roll-25x25"].place)
    assert (len(found.symbols), found.words, found.centred) == (1, None, True)


def test_a_narrow_tape_shows_code_and_words_only() -> None:
    found = layout(bundled()["tape-12x60"].place)
    assert found.symbols == ()
    assert found.words is not None


def test_a_short_narrow_tape_shows_the_code_only() -> None:
    found = layout(Place(25, 12, 0, round=False, hole_mm=0))
    assert (found.symbols, found.words) == ((), None)
