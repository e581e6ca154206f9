"""The sums as one sheet: what each needs, and which can be done with the sizes at hand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from stash.bench import engine, rings
from stash.bench.bearings import bearing
from stash.bench.iso286 import CLASSES
from stash.bench.quantities import read_quantity
from stash.bench.seats import CASE_METALS, USUAL_SEAT, bearing_drop_in_c
from stash.bench.sums import Sum
from stash.errors import InvalidInput, NotFound

Values = Mapping[str, float | str]
"""``{input key: size in the input's unit, or a word}``."""


@dataclass(frozen=True, slots=True)
class Input:
    """A size the sums ask for.

    Args:
        key: Its key.
        name: What it is called.
        unit: The unit sums are done in; "" for a count, a share or a word.
        hint: How to come by it.
        words: What can be chosen; empty for a number, unless it is ``free``.
        free: It is a text, such as what is engraved on a bearing.
    """

    key: str
    name: str
    unit: str = ""
    hint: str = ""
    words: tuple[str, ...] = ()
    free: bool = False


INPUTS = (
    Input("bore_mm", "bore", "mm", "Inside the cylinder, across"),
    Input("stroke_mm", "stroke", "mm", "How far the piston travels, end to end"),
    Input("cylinders", "cylinders", "", "One, unless said otherwise"),
    Input("chamber_cm3", "chamber volume", "cm³", "Oil from a burette at top dead centre, plug and gasket in"),
    Input("exhaust_top_mm", "exhaust port closes before the top", "mm", "Depth rod: port edge to top dead centre"),
    Input("rod_centres_mm", "connecting rod, eye to eye", "mm", "Centre to centre of its two eyes"),
    Input("limit_rpm", "speed at the limiter", "rpm", "Where the limiter cuts, or the highest speed it is run at"),
    Input("no_load_rpm", "no-load setting", "rpm", "Full throttle without load, as the carburettor is set"),
    Input("mass_g", "moving mass now", "g", "Piston, rings, pin and clips on a scale"),
    Input("mass_before_g", "moving mass before", "g", "The same of the piston that came out"),
    Input("balance_factor", "balance factor before", "", "Share of the moving mass the crank balances, such as 0.5"),
    Input("gap_mm", "ring gap as measured", "mm", "Ring pushed square into the bore, feeler in the gap"),
    Input("squish_before_mm", "squish before", "mm", "Soft solder in, turn over by hand, measure the flat"),
    Input("crown_change_mm", "crown taller by", "mm", "New compression height less the old; below zero for lower"),
    Input("cylinder_change_mm", "cylinder taller by", "mm", "New cylinder height less the old"),
    Input("gasket_change_mm", "gaskets thicker by", "mm", "All new gaskets together less the old"),
    Input("bearing", "bearing", "", "The number on its ring, such as 6203-2RS/C3", free=True),
    Input(
        "seat_class", "seat made to", "", "N7 is usual in light alloy; common practice, no source",
        tuple(each for each in CLASSES if each[0].isupper()),
    ),
    Input("case_metal", "case metal", "", "A magnet sticks to iron; magnesium is very light", tuple(CASE_METALS)),
    Input("room_c", "room temperature", "°C", "20 °C, unless said otherwise"),
)  # fmt: skip
INPUT_BY_KEY = {each.key: each for each in INPUTS}
MAY_BE_NEGATIVE = frozenset({"crown_change_mm", "cylinder_change_mm", "gasket_change_mm", "room_c"})


@dataclass(frozen=True, slots=True)
class Line:
    """A sum the sheet knows.

    Args:
        key: Which sum.
        group: What it is about.
        title: Its plain name.
        needs: Inputs it cannot do without.
        may: Inputs it also takes.
        work: Does it.
    """

    key: str
    group: str
    title: str
    needs: tuple[str, ...]
    work: Callable[[Values], Sum]
    may: tuple[str, ...] = ()


def _of(work: Callable[..., Sum], *keys: str, **named: str) -> Callable[[Values], Sum]:
    """A sum over inputs by place, and by name where given; an input that is not there keeps its default."""

    def done(values: Values) -> Sum:
        by_name = {name: values[key] for name, key in named.items() if key in values}
        return work(*(values[key] for key in keys), **by_name)

    return done


def _drop_in(values: Values) -> Sum:
    room = {"room_c": float(values["room_c"])} if "room_c" in values else {}
    fit = str(values.get("seat_class") or USUAL_SEAT)
    return bearing_drop_in_c(bearing(str(values["bearing"])), fit, str(values["case_metal"]), **room)


LINES = (
    Line(
        "displacement_cm3", "engine", "Displacement", ("bore_mm", "stroke_mm"),
        _of(engine.displacement_cm3, "bore_mm", "stroke_mm", cylinders="cylinders"), ("cylinders",),
    ),
    Line(
        "compression_ratio_full_stroke", "engine", "Compression ratio over the full stroke",
        ("bore_mm", "stroke_mm", "chamber_cm3"),
        _of(engine.compression_ratio_full_stroke, "bore_mm", "stroke_mm", "chamber_cm3"),
    ),
    Line(
        "compression_ratio_exhaust_closed", "engine", "Compression ratio from where the exhaust port closes",
        ("bore_mm", "exhaust_top_mm", "chamber_cm3"),
        _of(engine.compression_ratio_exhaust_closed, "bore_mm", "exhaust_top_mm", "chamber_cm3"),
    ),
    Line(
        "mean_piston_speed_m_s", "speed", "Mean piston speed at the limiter", ("stroke_mm", "limit_rpm"),
        _of(engine.mean_piston_speed_m_s, "stroke_mm", "limit_rpm"),
    ),
    Line(
        "peak_acceleration_m_s2", "speed", "Peak piston acceleration at the limiter",
        ("stroke_mm", "rod_centres_mm", "limit_rpm"),
        _of(engine.peak_acceleration_m_s2, "stroke_mm", "rod_centres_mm", "limit_rpm"),
    ),
    Line(
        "no_load_margin_rpm", "speed", "No-load setting below the limiter", ("limit_rpm", "no_load_rpm"),
        _of(engine.no_load_margin_rpm, "limit_rpm", "no_load_rpm"),
    ),
    Line(
        "shaking_force_n", "balance", "Shaking force at top dead centre",
        ("mass_g", "stroke_mm", "rod_centres_mm", "limit_rpm"),
        _of(engine.shaking_force_n, "mass_g", "stroke_mm", "rod_centres_mm", "limit_rpm"),
    ),
    Line(
        "shaking_force_change", "balance", "Shaking force with the other piston", ("mass_before_g", "mass_g"),
        _of(engine.shaking_force_change, "mass_before_g", "mass_g"),
    ),
    Line(
        "balance_factor", "balance", "Balance factor with the other piston",
        ("balance_factor", "mass_before_g", "mass_g"),
        _of(engine.balance_factor_after, "balance_factor", "mass_before_g", "mass_g"),
    ),
    Line("ring_gap_least_mm", "rings", "Least ring gap", ("bore_mm",), _of(rings.ring_gap_least_mm, "bore_mm")),
    Line(
        "ring_gap_per_bore", "rings", "Ring gap as measured, per bore", ("bore_mm", "gap_mm"),
        _of(rings.ring_gap_per_bore, "bore_mm", "gap_mm"),
    ),
    Line(
        "squish_mm", "rings", "Squish after a change", ("squish_before_mm",),
        _of(
            rings.squish_after_mm, "squish_before_mm", compression_height_change_mm="crown_change_mm",
            cylinder_height_change_mm="cylinder_change_mm", gasket_change_mm="gasket_change_mm",
        ),
        ("crown_change_mm", "cylinder_change_mm", "gasket_change_mm"),
    ),
    Line(
        "drop_in_temperature_c", "bearing", "Case temperature at which a bearing drops in",
        ("bearing", "case_metal"), _drop_in, ("seat_class", "room_c"),
    ),
)  # fmt: skip
"""In the order in which they are shown."""


@dataclass(frozen=True, slots=True)
class Worked:
    """One sum of the sheet with the sizes at hand.

    Args:
        line: Which sum.
        sum: The sum; None when it cannot be done.
        missing: Inputs that are still needed.
        problem: Why it cannot be done with these sizes; "" when it can, or when some are missing.
        hint: How to mend that.
    """

    line: Line
    sum: Sum | None = None
    missing: tuple[Input, ...] = ()
    problem: str = ""
    hint: str = ""


def read_inputs(texts: Mapping[str, str]) -> tuple[dict[str, float | str], dict[str, InvalidInput]]:
    """Read what was typed.

    Args:
        texts: ``{input key: text}``; empty texts are left out, keys the sheet does not know are passed over.

    Returns:
        ``{input key: value in its unit}``, and ``{input key: what is wrong with it}``.
    """
    values: dict[str, float | str] = {}
    wrong: dict[str, InvalidInput] = {}
    for key, text in texts.items():
        if key in INPUT_BY_KEY and text.strip():
            try:
                values[key] = _read(INPUT_BY_KEY[key], text.strip())
            except InvalidInput as error:
                wrong[key] = error
    return values, wrong


def worked(values: Values) -> tuple[Worked, ...]:
    """Do every sum that the sizes allow, and say of each other one what it still needs; in order of ``LINES``."""
    return tuple(_worked(line, values) for line in LINES)


def needed(lines: Iterable[Line]) -> frozenset[str]:
    """Return the inputs some sums take."""
    return frozenset(key for line in lines for key in (*line.needs, *line.may))


def _read(asked: Input, text: str) -> float | str:
    if asked.free:
        return text
    if asked.words:
        if text not in asked.words:
            raise InvalidInput(f"{text!r} is none of the choices", "Use one of: " + ", ".join(asked.words) + ".")
        return text
    value = read_quantity(text, asked.unit)
    if asked.key == "cylinders" and value != int(value):
        raise InvalidInput(f"{text!r} is no number of cylinders", "Give a whole number.")
    if value < 0 and asked.key not in MAY_BE_NEGATIVE:
        raise InvalidInput(f"{text!r} is below zero", "Give a number above 0.")
    return value


def _worked(line: Line, values: Values) -> Worked:
    missing = tuple(INPUT_BY_KEY[key] for key in line.needs if key not in values)
    if missing:
        return Worked(line, missing=missing)
    try:
        return Worked(line, line.work(values))
    except (InvalidInput, NotFound) as error:
        return Worked(line, problem=error.message, hint=error.hint)
