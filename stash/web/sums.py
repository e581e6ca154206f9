"""Bench sums: type sizes in either unit, and every sum that they allow is done."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from stash.bench.quantities import QUANTITIES, in_other_unit, read_quantity
from stash.bench.worksheet import INPUTS, LINES, Input, needed
from stash.errors import InvalidInput
from stash.kernel.tables import Cell, Column
from stash.services import bench_sums
from stash.web.forms import Field, choices
from stash.web.shop import store

bp = Blueprint("sums", __name__, url_prefix="/sums")

GROUPS = {
    "engine": "Size and compression",
    "speed": "Speed and acceleration",
    "balance": "Shaking and balance",
    "rings": "Rings and squish",
    "bearing": "Bearings into a case",
}
"""``{group: its heading}``, in the order they are shown."""


@bp.get("/")
def index() -> str | tuple[str, int]:
    """Show the sheet with what was typed, or what a machine, build or model gives."""
    begun = bench_sums.begin(store(), request.args.get("of", "").strip())
    given = {each.key: request.args[each.key].strip() for each in INPUTS if each.key in request.args}
    sheet = bench_sums.sheet(store(), {**(begun.texts or {}), **given})
    page = render_template(
        "sums/index.html",
        begun=begun,
        of=request.args.get("of", "").strip(),
        sheet=sheet,
        done=[each for each in sheet.worked if each.sum or each.problem],
        waiting=[each for each in sheet.worked if each.missing],
        groups=_groups(sheet),
        headings=GROUPS,
        also=in_other_unit,
    )
    return page, 400 if sheet.wrong else 200


@bp.get("/units")
def units() -> str | tuple[str, int]:
    """Turn a size into the other unit of its quantity, both ways."""
    rows: list[tuple[str, str, Field, tuple[float, float] | None]] = []
    wrong = False
    for quantity in QUANTITIES:
        name = quantity.unit.replace("³", "3").replace("°", "").replace("/", "_").lower()
        text = request.args.get(name, "").strip()
        both, problem = None, ""
        if text:
            try:
                value = read_quantity(text, quantity.unit)
                both = (value, quantity.there(value))
            except InvalidInput as error:
                problem, wrong = f"{error.message}. {error.hint}", True
        hint = f"A number in {quantity.unit}, or with its unit: 1.5 {quantity.other}"
        field = Field(
            Column(name, Cell.TEXT), text, problem, label=f"So many {quantity.unit} or {quantity.other}", hint=hint
        )
        rows.append((quantity.unit, quantity.other, field, both))
    return render_template("sums/units.html", rows=rows), 400 if wrong else 200


def _groups(sheet: bench_sums.Sheet) -> list[tuple[str, list[Field]]]:
    """The fields of each group of sums; a size that several groups take stands in the first."""
    groups: list[tuple[str, list[Field]]] = []
    seen: set[str] = set()
    for group, heading in GROUPS.items():
        wanted = needed(line for line in LINES if line.group == group) - seen
        seen |= wanted
        groups.append((heading, [_field(each, sheet) for each in INPUTS if each.key in wanted]))
    return groups


def _field(asked: Input, sheet: bench_sums.Sheet) -> Field:
    wrong = sheet.wrong.get(asked.key)
    return Field(
        Column(asked.key, Cell.TEXT),
        sheet.texts.get(asked.key, ""),
        f"{wrong.message}. {wrong.hint}" if wrong else "",
        options=choices(asked.words, blank="not said") if asked.words else (),
        label=f"{asked.name} ({asked.unit})" if asked.unit else asked.name,
        hint=asked.hint,
        way=_WAYS.get(asked.key, ""),
    )


_WAYS = {
    "bore_mm": "bore_gauge",
    "chamber_cm3": "volume",
    "exhaust_top_mm": "depth",
    "rod_centres_mm": "centres",
    "limit_rpm": "speed",
    "no_load_rpm": "speed",
    "mass_g": "mass",
    "mass_before_g": "mass",
    "gap_mm": "feeler",
}
"""``{input: the way it is measured}``."""
