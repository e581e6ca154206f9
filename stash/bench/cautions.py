"""What can hurt someone, in plain short words, and where it must be said.

Source: common practice, no source; none of it replaces the maker's own instructions, local rules or a licensed shop.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Args:
        key: Its key.
        title: Two or three words.
        text: What to say, where the action happens.
        kinds: Kinds it belongs to.
        systems: Systems all of whose kinds it belongs to.
        actions: What is being done: ``drain``, ``fit``, ``strip``, ``heat``, ``run``, ``clean``.
        metals: Metals of the part it belongs to.
    """

    key: str
    title: str
    text: str
    kinds: frozenset[str] = frozenset()
    systems: frozenset[str] = frozenset()
    actions: frozenset[str] = frozenset()
    metals: frozenset[str] = frozenset()


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


CAUTIONS = (
    Caution(
        "vapour",
        "Petrol vapour",
        "Petrol vapour is heavier than air and lights far away. Outside or ventilated, no flames.",
        kinds=_words("carburettor fuel_line fuel_tap fuel_filter fuel_cap tank_handle"),
        systems=_words("fuel"),
        actions=_words("drain"),
    ),
    Caution(
        "hot_case",
        "Hot case",
        "Heat evenly in an oven, never with a flame. Gloves. Fuel and seals out first. "
        "Above 120 °C: press, freezer or a shop.",
        kinds=_words("main_bearing crankcase_half crank_assembly"),
        actions=_words("heat"),
    ),
    Caution(
        "magnesium",
        "Magnesium",
        "Chips and dust can burn. Never water: a class D extinguisher or dry sand.",
        metals=_words("magnesium"),
    ),
    Caution(
        "old_linings",
        "Old linings and gaskets",
        "Assume old gaskets, clutch and brake linings hold asbestos. No blowing, no sanding: wet-wipe.",
        kinds=_words("head_gasket base_gasket brake_band clutch clutch_drum clutch_cover"),
        actions=_words("clean"),
    ),
    Caution(
        "function_test",
        "Function test",
        "After this swap check: the switch stops it; the throttle springs shut; the interlock blocks; the brake holds; "
        "nothing turns at idle.",
        kinds=_words("carburettor clutch clutch_drum clutch_cover limiter ignition_module handle tank_handle"),
        systems=_words("controls"),
    ),
    Caution(
        "guards",
        "Guard",
        "Do not run without this guard.",
        kinds=_words("recoil_cover top_cover clutch_cover"),
    ),
    Caution(
        "rev_limit",
        "Rev limit",
        "A higher limit than rated: flywheel, chain, blade and clutch may burst. Blocked unless acknowledged.",
        kinds=_words("limiter ignition_module"),
    ),
    Caution(
        "fuel_line",
        "Old fuel line",
        "Old lines harden and leak. Fit new; record the date.",
        kinds=_words("fuel_line fuel_cap"),
    ),
    Caution(
        "spring",
        "Recoil spring",
        "A recoil spring can fly out. Eye protection; release its tension first.",
        kinds=_words("recoil_cover starter_pulley rewind_spring"),
    ),
    Caution(
        "rotor",
        "Rotor",
        "Inspect hub and fins: a crack is scrap.",
        kinds=_words("flywheel"),
    ),
    Caution(
        "law",
        "Law",
        "May affect road class, emissions, noise or spark-arrestor duty. Check your local rules or a licensed shop.",
        kinds=_words("cylinder limiter arrestor_screen silencer"),
        systems=_words("exhaust"),
    ),
    Caution(
        "gas",
        "Carbon monoxide",
        "Never run it indoors: carbon monoxide.",
        actions=_words("run"),
    ),
)
"""In the order in which they are shown."""

CAUTION_BY_KEY = {caution.key: caution for caution in CAUTIONS}
ACTIONS = frozenset(action for caution in CAUTIONS for action in caution.actions)
"""Actions that carry a caution of their own."""


def for_kind(kind: str, *, system: str = "", action: str = "", metal: str = "") -> tuple[Caution, ...]:
    """Return the cautions to show where a part of a kind is handled.

    Args:
        kind: The kind's key; "" where only the action counts.
        system: The kind's system, so that kinds people add are covered too.
        action: What is being done, such as ``drain``, ``heat`` or ``run``; "" for fitting and looking.
        metal: What the part is made of, such as ``magnesium``, where known.

    Returns:
        Each at most once, in the order of ``CAUTIONS``.
    """
    return tuple(
        caution
        for caution in CAUTIONS
        if kind in caution.kinds or system in caution.systems or action in caution.actions or metal in caution.metals
    )


def for_action(action: str) -> tuple[Caution, ...]:
    """Return the cautions of an action whatever the part: draining, heating, cleaning, running."""
    return for_kind("", action=action)


_SAME = 0.7
"""Share of a sentence's words that must stand in a text for it to say nothing new. Source: project decision."""
_WORD = re.compile(r"\w+")


def to_say(kind: str, own: str = "", *, system: str = "", action: str = "", metal: str = "") -> tuple[str, ...]:
    """Return what to say where a part of a kind is handled, each thing once.

    Args:
        kind: The kind's key.
        own: What the owner's catalogue says of the kind; it goes first, unless it says nothing the others don't.
        system: The kind's system.
        action: What is being done.
        metal: What the part is made of, where known.
    """
    texts = [caution.text for caution in for_kind(kind, system=system, action=action, metal=metal)]
    if not own or _says(" ".join(texts), own):
        return tuple(texts)
    return (own, *(text for text in texts if not _says(own, text)))


def _says(whole: str, text: str) -> bool:
    """Tell whether every sentence of a text is in another one, in these or nearly these words."""
    said = _bare(whole)
    sentences = [words for each in text.split(".") if (words := _bare(each))]
    return all(len(words & said) >= _SAME * len(words) for words in sentences)


def _bare(text: str) -> frozenset[str]:
    return frozenset(_WORD.findall(text.casefold()))
