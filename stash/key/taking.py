"""How a measure is taken, told by its own words, so that a screen can show where the tool goes."""

from __future__ import annotations

from stash.fit.facts import Measure

TAKINGS = {
    "outside": "Outside jaws square across, light thumb; rock it a little and read the smallest.",
    "inside": "Inside jaws across the widest line, in line with the hole; rock it and read the largest.",
    "centres": "Over the far edges of both holes, less one hole: that is centre to centre.",
    "depth": "Beam flat on the face, rod down square to the bottom.",
    "pin_bore": "Inside jaws across the hole, clip and burrs out; again a quarter turn on: worn holes are oval.",
    "crown": "From the crown's edge to the pin, plus half the pin: the height to the pin's middle.",
    "height": "Both jaws flat on the two faces, part clean, no gasket on it.",
    "micrometer": "Micrometer square on, turned by its ratchet till it clicks; take it at three places.",
    "bore_gauge": "Bore gauge down the bore; tilt it to and fro and read the smallest.",
    "taper": "At the thick end of the taper, right where it begins, not on the shoulder.",
    "feeler": "Ring pushed square into the bore with a piston; the thickest feeler that goes in without force.",
    "gap": "The thickest feeler that goes in without force; the next one must not.",
    "thread": "Hold the gauge against the light: every tooth must sit. Then the outside with outside jaws.",
    "mass": "Scale level and at zero, part dry and bare, unless the words say what stays on.",
    "count": "Mark where you begin and count round once.",
    "tape": "Tape along the part, no pull; face to face or eye to eye as the words say.",
    "speed": "Tachometer by the plug lead. Guards on, nothing near what turns, and outside: carbon monoxide.",
    "volume": "Level, greased glass with a small hole on top; fill from the burette till the bubble is gone.",
    "plug": "A pin or drill shank of known size: the largest that slides through without rock.",
    "pitch": "Pull tight, measure over ten, divide by ten.",
}
"""``{way: what to mind}``. Source: common practice, no source."""

_SAID = (
    ("centre to centre", "centres"),
    ("eye edge to eye edge", "centres"),
    ("depth rod", "depth"),
    ("tallest inside height", "depth"),
    ("bore gauge", "bore_gauge"),
    ("micrometer", "micrometer"),
    ("thread gauge", "thread"),
    ("feeler", "gap"),
    ("burette", "volume"),
    ("tachometer", "speed"),
    ("count them", "count"),
    ("scale", "mass"),
    ("over ten", "pitch"),
    ("tape", "tape"),
    ("pulled tight", "tape"),
    ("drill shank", "plug"),
    ("of known", "plug"),
    ("inside jaws", "inside"),
    ("pin in: outside jaws", "crown"),
    ("outside jaws over both", "height"),
    ("outside jaws from", "height"),
    ("outside jaws", "outside"),
)
"""What the words say, and the way it means; what is said first counts."""
_FINER = (
    ("outside", "taper", "taper"),
    ("inside", "pin bore", "pin_bore"),
    ("gap", "ring gap", "feeler"),
    ("gap", "end gap", "feeler"),
)
"""Where the measure's name tells more: ``(way, word in the name, finer way)``."""
_BY_UNIT = {"g": "mass", "rpm": "speed", "cm³": "volume"}
_BY_NAME = (
    ("ring gap", "feeler"),
    ("end gap", "feeler"),
    ("gap", "gap"),
    ("thread", "thread"),
    ("taper", "taper"),
    ("pin bore", "pin_bore"),
    ("spacing", "centres"),
    ("centres", "centres"),
    ("square", "centres"),
    ("teeth", "count"),
    ("links", "count"),
    ("depth", "depth"),
    ("compression height", "crown"),
    ("height", "height"),
    ("length", "height"),
    ("width", "height"),
    ("thickness", "micrometer"),
    ("inside", "inside"),
    ("bore", "inside"),
    ("outside", "outside"),
    ("diameter", "outside"),
)


def way_of(measure: Measure) -> str:
    """Return the way a measure is taken, a key of ``TAKINGS``; "" where nothing says, or it is only looked at."""
    name = measure.name.casefold()
    if measure.type != "number" and "thread" not in name:
        return ""
    how = measure.how.casefold()
    said = [(how.index(words), place, way) for place, (words, way) in enumerate(_SAID) if words in how]
    if said:
        found = min(said)[2]
        return next((finer for way, word, finer in _FINER if way == found and word in name), found)
    if how:
        return ""
    return _BY_UNIT.get(measure.unit) or next((way for word, way in _BY_NAME if word in name), "")
