"""What the scenario's rows say, worked out without the program."""

import math
from collections import defaultdict


def swept_cm3(bore_mm, stroke_mm):
    return round(math.pi / 4 * float(bore_mm) ** 2 * float(stroke_mm) / 1000, 2)


def values_of(tables):
    values = defaultdict(dict)
    for row in tables["design_measures"]:
        values[row["design"]][row["measure"]] = row["value"]
    return values


def measured_on(tables):
    values = defaultdict(dict)
    for row in tables["lot_measures"]:
        values[row["lot"]][row["measure"]] = row["value"]
    return values


def lot_noted(tables, note):
    (found,) = (row for row in tables["lots"] if note in row["note"])
    return found


def sheet_of(tables, model):
    """``{position: kind}`` of a model; its own rows override its generation's."""
    rows = [row for row in tables["positions"] if row["generation"] == model["generation"]]
    rows += [row for row in tables["positions"] if row["model"] == model["key"]]
    sheet = {row["position"]: row for row in rows}
    return {name: row["kind"] for name, row in sheet.items() if row["quantity"] != "0"}


def stock_of(tables, model, position, year=None):
    """Designs a position came with; a model's own rows replace its generation's."""
    rows = [row for row in tables["came_on"] if row["position"] == position]
    own = [row for row in rows if row["model"] == model["key"]]
    found = own or [row for row in rows if row["generation"] == model["generation"]]
    return {
        row["design"]
        for row in found
        if year is None or int(row["from_year"] or 0) <= year <= int(row["to_year"] or 9999)
    }
