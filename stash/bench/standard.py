"""Standard parts as measures: what a designation already tells, so that nobody has to measure it.

A bearing, a circlip and an O-ring are named whole by their designation: two of one designation go in each other's
place, whoever made them. A thread names only the thread.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from stash.bench.bearings import BEARINGS, Designation, bearing, read_designation
from stash.bench.circlips import CIRCLIPS, circlip
from stash.bench.o_rings import O_RINGS, o_ring
from stash.bench.threads import PLUG_THREADS, read_thread
from stash.errors import InvalidInput, NotFound

_CIRCLIP = re.compile(r"\s*(?:DIN\s*)?(471|472)\s*[-/, ]\s*(\d+(?:\.\d+)?)\s*(?:[Xx\u00d7].*)?", re.IGNORECASE)
_O_RING = re.compile(r"\s*(?:O[- ]?ring|OR|ISO\s*3601(?:-1)?)\s*[-: ]?\s*(\d{1,3})\b.*", re.IGNORECASE)
_STARTER_CLEARANCES = frozenset({"normal", "C3", "C4"})
USUAL_CAGE = "steel"
"""A number without a cage letter means a pressed steel cage. Source: common practice, no source."""

USUAL_TYPE = "deep-groove ball"
"""What every basic number in the table of bearings is. A roller, an angular-contact or a self-aligning bearing of the
same three sizes has another number (ISO 15 gives sizes, not what rolls). Source: common practice, no source."""
NO_SNAP_RING = "none"

ISO_15 = "ISO 15:2017"
RING_OFF_MM = 0.02
WIDTH_OFF_MM = 0.07
"""How far a bearing's rings and width on record may lie from their nominal sizes, so that an inch size is not taken for
a metric one. Source: ISO 492, normal class: rings to 0.011 mm below, width to 0.12 mm below."""


@dataclass(frozen=True, slots=True)
class StandardPart:
    """What a designation says.

    Args:
        kind: Key of the kind it belongs to; "" where several kinds have such a size (a thread).
        name: The designation, written one way.
        source: The standard it is made to.
        values: ``{measure: cell}``, sizes in mm.
        whole: It names the whole part, not only one size of it.
        unread: Letters that mean nothing here: it may be more than the values say.
    """

    kind: str
    name: str
    source: str
    values: Mapping[str, str]
    whole: bool = True
    unread: tuple[str, ...] = ()


def standard_values(kind: str, designation: str) -> dict[str, str]:
    """Return what a designation says of a standard part, as the cells of its measures.

    Args:
        kind: A kind's key: ``main_bearing``, ``circlip``, ``o_ring``, ``stud`` or ``spark_plug``.
        designation: Such as ``6203-2RS/C3``, ``DIN 471 15``, ``116``, ``M6`` or ``M14x1.25``.

    Returns:
        ``{measure: cell}``, sizes in mm.

    Raises:
        InvalidInput: The kind has no designations here, or the text is none of its.
        NotFound: It is one, but not in the tables.
    """
    read = _READ.get(kind)
    if read is None:
        raise InvalidInput(f"{kind!r} has no standard designations here", "Those that have: " + ", ".join(_READ) + ".")
    return read(designation)


STANDARD_KINDS: tuple[str, ...]
"""Kinds of which a designation tells the sizes."""


def read_standard(text: str) -> StandardPart | None:
    """Return what a text on a part designates, None when it is no standard designation.

    Args:
        text: Such as ``6203-2RS/C3``, ``DIN 472 40``, ``O-ring 116``, ``ISO 3601 116`` or ``M14x1.25``. A bare number
            is a bearing only if the table has it.
    """
    kind = seen_as(text)
    try:
        if kind == "main_bearing":
            marks = read_designation(text)
            values = _bearing(text) | {"clearance": marks.clearance, "cage": marks.cage or USUAL_CAGE}
            if any(word[:1].isdigit() for word in marks.unread):
                return None
            return StandardPart(kind, str(marks), ISO_15, values, unread=marks.unread)
        if kind == "circlip":
            values = _circlip(text)
            ring = circlip(values["form"], float(values["nominal_mm"]))
            return StandardPart(kind, str(ring), ring.standard, values)
        if kind == "o_ring":
            ring_code = _O_RING.fullmatch(text)
            ring_found = o_ring(ring_code[1] if ring_code else text)
            return StandardPart(kind, str(ring_found), "ISO 3601-1:2012", _o_ring(ring_found.code))
        thread = read_thread(text)
        return StandardPart("", str(thread), "ISO 261:1998", {"thread": f"{thread}"}, whole=False)
    except (InvalidInput, NotFound):
        return None


def same_thread(one: str, other: str) -> bool:
    """Tell whether two texts name one metric thread: ``M6`` and ``M6x1`` do."""
    try:
        return read_thread(one) == read_thread(other)
    except (InvalidInput, NotFound):
        return False


def designated(kind: str, values: Mapping[str, float | str]) -> StandardPart | None:
    """Return the standard part that a design's recorded sizes make it, None when they do not decide.

    Args:
        kind: A kind's key.
        values: ``{measure: nominal size in mm, or word}``; everything that decides must be known.
    """
    try:
        return _DESIGNATED[kind](values) if kind in _DESIGNATED else None
    except (KeyError, TypeError):
        return None


def to_mind(stock: Mapping[str, float | str], ours: Mapping[str, float | str]) -> tuple[str, ...]:
    """Return what to mind where a bearing of one sort sits in place of another of the same size.

    Args:
        stock: ``{measure: value}`` of the one it left with.
        ours: The same of the one to go in.

    Source: common practice, no source.
    """
    said = [_WORDS_FOR[key](str(stock[key]), str(ours[key])) for key in _WORDS_FOR if key in stock and key in ours]
    return tuple(each for each in said if each)


def _seal_words(stock: str, ours: str) -> str:
    if ours != "open" and stock == "open":
        return (
            f"closed on {ours} where an open one sits: the engine's oil or mixture cannot reach the balls. "
            "Lift the seals out first, or take an open one"
        )
    if ours == "open" and stock != "open":
        return "open where a closed one sits: nothing keeps its grease in and dirt out"
    return f"closed on {ours}, where stock is closed on {stock}" if ours != stock else ""


def _clearance_words(stock: str, ours: str) -> str:
    if stock == ours:
        return ""
    order = ("C2", "normal", "C3", "C4")
    looser = ours in order and stock in order and order.index(ours) > order.index(stock)
    told = (
        "looser inside, as tight or hot seats want it; in a loose or cool one it may run noisy"
        if looser
        else "tighter inside: a tight or hot seat may take up all its play and seize it"
    )
    return f"clearance {ours} where stock is {stock}: {told}"


def _cage_words(stock: str, ours: str) -> str:
    if ours == "polymer" and stock != "polymer":
        return "polymer cage: keep it below 120 °C when it goes in"
    return ""


def _type_words(stock: str, ours: str) -> str:
    if stock == ours:
        return ""
    return f"{ours} bearing where a {stock} one sits: see what holds the shaft endways and what takes the side load"


def _snap_ring_words(stock: str, ours: str) -> str:
    if stock == ours:
        return ""
    return f"snap ring: {ours}, where stock has {stock}: the ring may be what holds it in the case, or be in the way"


_WORDS_FOR: Mapping[str, Callable[[str, str], str]] = {
    "type": _type_words,
    "snap_ring": _snap_ring_words,
    "seals": _seal_words,
    "clearance": _clearance_words,
    "cage": _cage_words,
}


def _bearing(text: str) -> dict[str, str]:
    sizes, marks = bearing(text), read_designation(text)
    values = {"id_mm": f"{sizes.bore_mm:g}", "od_mm": f"{sizes.outside_mm:g}", "width_mm": f"{sizes.width_mm:g}"}
    if marks.clearance in _STARTER_CLEARANCES:
        values["clearance"] = marks.clearance
    values |= {"seals": marks.seals, "type": USUAL_TYPE, "snap_ring": marks.groove or NO_SNAP_RING}
    return values | ({"cage": marks.cage} if marks.cage else {})


def _circlip(text: str) -> dict[str, str]:
    mark = _CIRCLIP.fullmatch(text)
    if mark is None:
        raise InvalidInput(
            f"{text!r} is not a circlip", "Write DIN 471 for a shaft or DIN 472 for a bore, and the size."
        )
    ring = circlip("shaft" if mark.group(1) == "471" else "bore", float(mark.group(2)))
    return {"nominal_mm": f"{ring.nominal_mm:g}", "thickness_mm": f"{ring.thickness_mm:g}", "form": ring.form}


def _o_ring(text: str) -> dict[str, str]:
    ring = o_ring(text)
    return {"id_mm": f"{ring.inside_mm:g}", "cord_mm": f"{ring.cord_mm:g}"}


def _stud(text: str) -> dict[str, str]:
    return {"thread": str(read_thread(text))}


def _spark_plug(text: str) -> dict[str, str]:
    thread = read_thread(text)
    for plug in PLUG_THREADS:
        if plug.thread == thread:
            return {"thread": str(plug)}
    known = ", ".join(str(plug) for plug in PLUG_THREADS)
    raise NotFound(f"{thread} is not a spark-plug thread", f"Those are {known}.")


_READ: Mapping[str, Callable[[str], dict[str, str]]] = {
    "main_bearing": _bearing,
    "circlip": _circlip,
    "o_ring": _o_ring,
    "stud": _stud,
    "spark_plug": _spark_plug,
}
STANDARD_KINDS = tuple(_READ)


def _near(size: float | str, nominal_mm: float, off_mm: float) -> bool:
    return isinstance(size, float) and abs(size - nominal_mm) <= off_mm


def _as_bearing(values: Mapping[str, float | str]) -> StandardPart | None:
    bore, outside, width = values["id_mm"], values["od_mm"], values["width_mm"]
    seals, clearance, cage = str(values["seals"]), str(values["clearance"]), str(values.get("cage", USUAL_CAGE))
    snap_ring = str(values["snap_ring"])
    if values["type"] != USUAL_TYPE:
        return None
    for row in BEARINGS.values():
        rings = _near(bore, row.bore_mm, RING_OFF_MM) and _near(outside, row.outside_mm, RING_OFF_MM)
        if rings and _near(width, row.width_mm, WIDTH_OFF_MM):
            marks = Designation(row.basic, clearance=clearance)
            said = [str(marks), "" if seals == "open" else f"closed on {seals}"]
            said.append("" if cage == USUAL_CAGE else f"{cage} cage")
            said.append("" if snap_ring == NO_SNAP_RING else f"snap ring: {snap_ring}")
            sizes = {"id_mm": f"{row.bore_mm:g}", "od_mm": f"{row.outside_mm:g}", "width_mm": f"{row.width_mm:g}"}
            words = {"seals": seals, "clearance": clearance, "type": USUAL_TYPE, "snap_ring": snap_ring}
            return StandardPart("main_bearing", ", ".join(filter(None, said)), ISO_15, sizes | words)
    return None


def _as_circlip(values: Mapping[str, float | str]) -> StandardPart | None:
    for (form, nominal), ring in CIRCLIPS.items():
        sized = _near(values["nominal_mm"], nominal, RING_OFF_MM)
        if form == values["form"] and sized and _near(values["thickness_mm"], ring.thickness_mm, RING_OFF_MM):
            return StandardPart("circlip", str(ring), ring.standard, _circlip(f"{ring.standard} {nominal:g}"))
    return None


def _as_o_ring(values: Mapping[str, float | str]) -> StandardPart | None:
    for code, ring in O_RINGS.items():
        if _near(values["id_mm"], ring.inside_mm, RING_OFF_MM) and _near(values["cord_mm"], ring.cord_mm, RING_OFF_MM):
            rubber = str(values["rubber"])
            return StandardPart("o_ring", f"{ring}, {rubber}", "ISO 3601-1:2012", _o_ring(code) | {"rubber": rubber})
    return None


_DESIGNATED: Mapping[str, Callable[[Mapping[str, float | str]], StandardPart | None]] = {
    "main_bearing": _as_bearing,
    "circlip": _as_circlip,
    "o_ring": _as_o_ring,
}


def seen_as(number: str) -> str:
    """Return the kind that a number seen on a part is a standard designation of, "" when of none.

    Args:
        number: What is printed or engraved on it. A bare number of digits is a bearing only if the table has it.
    """
    if _CIRCLIP.fullmatch(number):
        return "circlip"
    if _O_RING.fullmatch(number):
        return "o_ring"
    try:
        basic = read_designation(number).basic
    except InvalidInput:
        return ""
    return "main_bearing" if basic in BEARINGS else ""
