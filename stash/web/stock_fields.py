"""The fields of a label stock: its dimensions, as a person measures them."""

from __future__ import annotations

from stash.kernel.tables import Column
from stash.web import words
from stash.web.forms import Field

_TITLES = {
    "page_w_mm": "page width (mm)",
    "page_h_mm": "page height (mm)",
    "label_w_mm": "label width (mm)",
    "label_h_mm": "label height (mm)",
    "pitch_x_mm": "from label to label across (mm)",
    "pitch_y_mm": "from label to label down (mm)",
    "qr_mm": "square for the code (mm)",
    "dpi": "dots an inch",
}
_HINTS = {
    "page_w_mm": "The page as it leaves the printer",
    "pitch_x_mm": "From one label's left edge to the next one's; empty when they touch",
    "pitch_y_mm": "From one label's top edge to the next one's; empty when they touch",
    "hole_mm": "Diameter of a punched hole",
    "qr_mm": "Side of the square kept for the code, its clear edge included; 0 prints words only",
    "dpi": "As its maker says",
    "key": "A short name of your own without spaces",
}


def stock_field(name: str) -> Field:
    """Return the field of one dimension of a label stock."""
    column = Column(name, required=name in {"key", "name", "label_w_mm", "label_h_mm"})
    if name == "form":
        return Field(column, "sheet", options=[("sheet", "sheet"), ("roll", "roll"), ("tag", "hang tag")])
    if name == "round":
        return Field(column, "no", options=[("no", "no"), ("yes", "yes")])
    start = {"columns": "1", "rows": "1", "dpi": "300"}.get(name, "")
    return Field(column, start, label=_TITLES.get(name, words.label(name)), hint=_HINTS.get(name, ""))
