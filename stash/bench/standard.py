"""Standard parts as measures: what a designation already tells, so that nobody has to measure it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from stash.bench.bearings import BEARINGS, bearing, read_designation
from stash.bench.circlips import circlip
from stash.bench.o_rings import o_ring
from stash.bench.threads import PLUG_THREADS, read_thread
from stash.errors import InvalidInput, NotFound

_CIRCLIP = re.compile(r"\s*(?:DIN\s*)?(471|472)\s*[-/, ]\s*(\d+(?:\.\d+)?)\s*(?:[Xx\u00d7].*)?", re.IGNORECASE)
_STARTER_CLEARANCES = frozenset({"normal", "C3", "C4"})


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


def _bearing(text: str) -> dict[str, str]:
    sizes, marks = bearing(text), read_designation(text)
    values = {"id_mm": f"{sizes.bore_mm:g}", "od_mm": f"{sizes.outside_mm:g}", "width_mm": f"{sizes.width_mm:g}"}
    if marks.clearance in _STARTER_CLEARANCES:
        values["clearance"] = marks.clearance
    values["seals"] = marks.seals
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


def seen_as(number: str) -> str:
    """Return the kind that a number seen on a part is a standard designation of, "" when of none.

    Args:
        number: What is printed or engraved on it. A bare number of digits is a bearing only if the table has it.
    """
    if _CIRCLIP.fullmatch(number):
        return "circlip"
    try:
        basic = read_designation(number).basic
    except InvalidInput:
        return ""
    return "main_bearing" if basic in BEARINGS else ""
