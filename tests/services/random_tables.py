"""Random sets of tables in which everything agrees, for laws that hold for every such set.

Cells are drawn from the tables' own description, so a new column is drawn as well; what rows must agree on is
patched in table by table.
"""

from typing import Any

from hypothesis import strategies as st

from stash.exchange import RawTable, RawTables
from stash.kernel.cells import Fault, list_items, read_cell, write_cell
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.kernel.numbers import canonical_number
from stash.kernel.tables import TABLE_BY_NAME, TABLES, Cell, Column

Row = dict[str, str]
Tables = dict[str, list[Row]]

AWKWARD = (
    "=1+1",
    "'=1",
    "''@x",
    "+49 30 1234",
    "-0.5",
    "-",
    'say "when"',
    "a,b;c|d",
    "two\nlines\n\nand a gap",
    "two  spaces",
    "007",
    "1e5",
    "TRUE",
    "1974-05-31",
    "<b>&amp;</b>",
    "_x0041_",
    "Zoë 日本 \U0001f527",
    "e\u0301",
    "\ufeffbom",
)
_TEXT = st.one_of(
    st.sampled_from(AWKWARD),
    st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=12),
)
_CODE = st.text(ALPHABET, min_size=5, max_size=5).map(code_from_payload).filter(bool).map(str)
_SLUG = st.from_regex(r"[a-z0-9é][a-z0-9_.+-]{0,6}[a-z0-9]", fullmatch=True)
_SPOT = st.sampled_from(("carburettor", "crank bearing, flywheel side", "pos: a", "front + rear", "1"))
_HOW_MANY = {
    "makers": (1, 2),
    "families": (1, 1),
    "generations": (1, 2),
    "models": (1, 3),
    "kinds": (1, 2),
    "measures": (2, 5),
    "designs": (2, 4),
    "positions": (3, 6),
    "numbers": (1, 4),
    "places": (1, 3),
    "machines": (1, 3),
    "lots": (1, 4),
    "fitted": (1, 5),
    "fitted_measures": (1, 5),
    "builds": (1, 2),
    "build_parts": (1, 4),
}
"""``{table: fewest and most rows tried}``: enough for those that need others to be there at all."""


@st.composite
def number_text(draw: st.DrawFn, low: int, high: int) -> str:
    """A decimal of at most six places between two whole numbers."""
    places = draw(st.integers(0, 6))
    micro = draw(st.integers(low * 10**places, min(high, 10**6) * 10**places))
    return f"{micro / 10**places:.{places}f}"


@st.composite
def cell(draw: st.DrawFn, column: Column) -> str:
    """A cell text of a column as ``write_cell`` writes it."""
    if not column.required and draw(st.booleans()):
        return ""
    low, high = column.low or 0, column.high or 1000
    drawn = {
        Cell.TEXT: _TEXT,
        Cell.SLUG: _SLUG,
        Cell.SPOT: _SPOT,
        Cell.CODE: _CODE,
        Cell.WHOLE: st.integers(low, high).map(str),
        Cell.YEAR: st.integers(low, high).map(str),
        Cell.EXACT: number_text(low, high),
        Cell.MONEY: st.integers(0, 10**11).map(lambda minor: f"{minor // 100}.{minor % 100:02}"),
        Cell.YES_NO: st.sampled_from(("yes", "no")),
        Cell.DATE: st.dates().map(str),
        Cell.CHOICE: st.sampled_from(column.choices or ("",)),
        Cell.LIST: st.just(""),
        Cell.MEASURED: st.just("1"),
    }[column.cell]
    value = read_cell(column, draw(drawn))
    text = "" if isinstance(value, Fault) else write_cell(column, value)
    return text or ("x" if column.required else "")


@st.composite
def valid_tables(draw: st.DrawFn) -> Tables:
    """Every table with a few rows that agree with each other; cells as they are written on export."""
    tables: Tables = {}
    for table in TABLES:
        rows: dict[tuple[str, ...], Row] = {}
        least, most = _HOW_MANY.get(table.name, (0, 4))
        for _ in range(draw(st.integers(least, most))):
            row = _row(draw, table.name, {**tables, table.name: list(rows.values())})
            if row is not None:
                rows.setdefault(tuple(row[name] for name in table.identity), row)
        tables[table.name] = list(rows.values())
    return tables


def raw(tables: Tables) -> RawTables:
    """The tables as they would come out of a file."""
    return {
        name: RawTable(
            TABLE_BY_NAME[name].names,
            [(number, [row[column] for column in TABLE_BY_NAME[name].names]) for number, row in enumerate(rows, 1)],
        )
        for name, rows in tables.items()
    }


def _row(draw: st.DrawFn, name: str, tables: Tables) -> Row | None:
    """One row, or None where nothing it needs is there."""
    row: Row = {}
    for column in TABLE_BY_NAME[name].columns:
        if column.ref:
            key = TABLE_BY_NAME[column.ref].identity[0]
            known = [other[key] for other in tables.get(column.ref, ())]
            options = known if column.required else ["", *known]
            if not options:
                return None
            row[column.name] = draw(st.sampled_from(options))
        else:
            row[column.name] = draw(cell(column))
    if {"from_year", "to_year"} <= row.keys() and row["from_year"] and row["to_year"]:
        row["from_year"], row["to_year"] = sorted((row["from_year"], row["to_year"]), key=int)
    patch = _PATCHES.get(name)
    return patch(draw, row, tables) if patch else row


def _pick(draw: st.DrawFn, rows: list[Row]) -> Row | None:
    return draw(st.sampled_from(rows)) if rows else None


def _kind_of(tables: Tables, design: str) -> str:
    return next((row["kind"] for row in tables["designs"] if row["key"] == design), "")


def _free_code(_draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    taken = {other["code"] for name in ("places", "machines", "lots") for other in tables.get(name, ())}
    return None if row["code"] in taken else row


def _measures(draw: st.DrawFn, row: Row, _tables: Tables) -> Row:
    words = draw(st.lists(st.sampled_from(("left", "12.50", "007", "yes", "é")), min_size=1, unique=True))
    row["choices"] = ";".join(words) if row["type"] == "choice" else ""
    row["unit"] = draw(st.sampled_from(("mm", "", "deg")))
    return row


def _value(draw: st.DrawFn, row: Row, tables: Tables, kind: str) -> Row | None:
    measure = _pick(draw, [other for other in tables["measures"] if other["kind"] == kind])
    if measure is None:
        return None
    row["measure"] = measure["key"]
    if measure["type"] == "number":
        number = read_cell(Column("x", Cell.EXACT), draw(number_text(0, 10_000)))
        row["value"] = write_cell(Column("x", Cell.EXACT), number)  # type: ignore[arg-type]
        return row
    words = ["yes", "no"] if measure["type"] == "yes_no" else [item[0] for item in list_items(measure["choices"])]
    row["value"] = draw(st.sampled_from(words))
    return row | {name: "" for name in ("minus", "plus") if name in row}


def _design_measures(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    return _value(draw, row, tables, _kind_of(tables, row["design"]))


def _numbers(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    row["number"] = draw(st.from_regex(r"[A-Z]{1,2}[- .]?[0-9]{1,3}", fullmatch=True))
    same = [other["number"] for other in tables["numbers"] if other["maker"] == row["maker"]]
    row["replaced_by"] = draw(st.sampled_from(["", *same]))
    plain = canonical_number(row["number"])
    return None if plain in {canonical_number(number) for number in same} else row


def _one_of(draw: st.DrawFn, row: Row, _tables: Tables) -> Row | None:
    if row["generation"] and row["model"]:
        row[draw(st.sampled_from(("generation", "model")))] = ""
    return row if row["generation"] or row["model"] else None


def _came_on(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    kind = _kind_of(tables, row["design"])
    spot = _pick(draw, [other for other in tables["positions"] if other["kind"] == kind and other["quantity"] != "0"])
    return spot and row | {name: spot[name] for name in ("position", "generation", "model")}


def _mates(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    a = _pick(draw, tables["measures"])
    b = a and _pick(draw, [m for m in tables["measures"] if (m["type"], m["unit"]) == (a["type"], a["unit"])])
    if not a or not b:
        return None
    row |= {"kind_a": a["kind"], "measure_a": a["key"], "kind_b": b["kind"], "measure_b": b["key"]}
    if a["type"] != "number":
        return row | {"relation": "same", "low": "", "high": ""}
    if row["low"] and row["high"]:
        row["low"], row["high"] = sorted((row["low"], row["high"]), key=float)
    return row


def _rules(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    keys = [other["key"] for name in ("designs", "kinds") for other in tables[name]]
    items = draw(st.lists(st.sampled_from(keys), max_size=3)) if keys else []
    row["companions"] = draw(st.sampled_from((";", "|"))).join(items)
    row["machine"] = ""  # machines come later
    if row["design"]:
        row["kind"] = draw(st.sampled_from(("", _kind_of(tables, row["design"]))))
    says = (row["design"] or row["kind"]) and any(row[name] for name in ("model", "generation", "family", "maker"))
    return row if says else None


def _spots(tables: Tables, model: str) -> list[Row]:
    generation = next((other["generation"] for other in tables["models"] if other["key"] == model), "")
    own = {other["position"]: other for other in tables["positions"] if other["model"] == model}
    whole = {other["position"]: other for other in tables["positions"] if other["generation"] == generation}
    return [spot for spot in {**whole, **own}.values() if spot["quantity"] != "0"]


def _of(tables: Tables, name: str, key: str, value: str) -> Row:
    return next(other for other in tables[name] if other[key] == value)


def _fitted(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    spot = _pick(draw, _spots(tables, _of(tables, "machines", "code", row["machine"])["model"]))
    if spot is None:
        return None
    designs = [other["key"] for other in tables["designs"] if other["kind"] == spot["kind"]]
    return row | {"position": spot["position"], "design": draw(st.sampled_from(["", *designs]))}


def _fitted_measures(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    part = _pick(draw, tables["fitted"])
    if part is None:
        return None
    row |= {"machine": part["machine"], "position": part["position"]}
    spots = _spots(tables, _of(tables, "machines", "code", row["machine"])["model"])
    return _value(draw, row, tables, next(s["kind"] for s in spots if s["position"] == row["position"]))


def _lots(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    row["kind"] = _kind_of(tables, row["design"]) or row["kind"]
    row["condition"] = row["condition"] or "unknown"
    return _free_code(draw, row, tables)


def _lot_measures(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    return _value(draw, row, tables, _of(tables, "lots", "code", row["lot"])["kind"])


def _builds(_draw: st.DrawFn, row: Row, _tables: Tables) -> Row | None:
    if row["machine"]:
        row["model"] = ""
    return row if row["machine"] or row["model"] else None


def _build_parts(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    build = _of(tables, "builds", "key", row["build"])
    model = build["model"] or _of(tables, "machines", "code", build["machine"])["model"]
    spot = _pick(draw, _spots(tables, model))
    if spot is None:
        return None
    row["position"] = spot["position"]
    lots = [other["code"] for other in tables["lots"] if other["kind"] == spot["kind"]]
    row["lot"] = draw(st.sampled_from(["", *lots]))
    designs = [other["key"] for other in tables["designs"] if other["kind"] == spot["kind"]]
    lot_design = _of(tables, "lots", "code", row["lot"])["design"] if row["lot"] else ""
    row["design"] = lot_design or draw(st.sampled_from(["", *designs]))
    return row if row["design"] or row["lot"] else None


def _places(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    row["inside"] = draw(st.sampled_from(["", *(other["code"] for other in tables["places"])]))
    return _free_code(draw, row, tables)


def _defaults(**given: str) -> Any:
    def patch(_draw: st.DrawFn, row: Row, _tables: Tables) -> Row:
        return row | {name: row[name] or value for name, value in given.items()}

    return patch


def _positions(draw: st.DrawFn, row: Row, tables: Tables) -> Row | None:
    row["quantity"] = row["quantity"] or "1"
    return _one_of(draw, row, tables)


_PATCHES = {
    "kinds": _defaults(safety_critical="no"),
    "measures": _measures,
    "design_measures": _design_measures,
    "numbers": _numbers,
    "positions": _positions,
    "came_on": _came_on,
    "mates": _mates,
    "rules": _rules,
    "places": _places,
    "machines": _free_code,
    "fitted": _fitted,
    "fitted_measures": _fitted_measures,
    "lots": _lots,
    "lot_measures": _lot_measures,
    "builds": _builds,
    "build_parts": _build_parts,
}
