"""What each column of a flat sheet is: by its header, by words for it, and by what stands in it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from stash.exchange.flat.files import Grid
from stash.kernel.codes import parse_code

FIELDS: dict[str, str] = {
    "code": "our code of the lot",
    "place": "where it lies",
    "what": "what it is",
    "number": "the part number on it",
    "quantity": "how many",
    "condition": "what shape it is in",
    "machine": "what it came off",
    "size": "what was measured",
    "paid": "what was paid",
    "date": "when it was bought",
    "note": "remarks",
}
"""``{field: what it means}``: what a column of a flat sheet can be taken for."""

WORDS: dict[str, tuple[str, ...]] = {
    "code": ("code", "stash code", "label", "qr", "lot", "lot code", "id"),
    "place": (
        "place",
        "box",
        "bin",
        "where",
        "location",
        "shelf",
        "drawer",
        "stored",
        "kept in",
        "storage",
        "rack",
        "lager",
        "lagerort",
        "kiste",
        "fach",
        "ort",
        "regal",
        "wo",
        "emplacement",
        "boîte",
        "bac",
        "plaats",
        "bak",
        "doos",
        "scatola",
        "dove",
        "caja",
        "lugar",
    ),
    "what": (
        "what",
        "part",
        "item",
        "kind",
        "description",
        "name",
        "article",
        "type",
        "thing",
        "component",
        "was",
        "teil",
        "bezeichnung",
        "artikel",
        "benennung",
        "pièce",
        "désignation",
        "quoi",
        "onderdeel",
        "omschrijving",
        "wat",
        "pezzo",
        "descrizione",
        "pieza",
        "descripción",
    ),
    "number": (
        "number",
        "part number",
        "part no",
        "number on part",
        "no",
        "p/n",
        "pn",
        "stamped",
        "reference",
        "ref",
        "nummer",
        "teilenummer",
        "teile nr",
        "nr",
        "art nr",
        "référence",
        "numéro",
        "onderdeelnummer",
        "codice",
        "numero",
        "referencia",
    ),
    "quantity": (
        "quantity",
        "qty",
        "how many",
        "pcs",
        "pieces",
        "count",
        "amount",
        "number of",
        "stock",
        "on hand",
        "anzahl",
        "menge",
        "stück",
        "stk",
        "bestand",
        "quantité",
        "qté",
        "nombre",
        "aantal",
        "quantità",
        "cantidad",
    ),
    "condition": (
        "condition",
        "shape",
        "shape it's in",
        "state",
        "grade",
        "quality",
        "zustand",
        "état",
        "staat",
        "conditie",
        "stato",
        "condizione",
        "estado",
    ),
    "machine": (
        "machine",
        "off of",
        "off",
        "from",
        "came off",
        "donor",
        "taken from",
        "model",
        "bike",
        "von",
        "aus",
        "ausgebaut aus",
        "spender",
        "modell",
        "de",
        "provenance",
        "van",
        "afkomstig",
        "da",
        "provenienza",
    ),
    "size": (
        "size",
        "measure",
        "measured",
        "dimension",
        "dimensions",
        "mm",
        "diameter",
        "maß",
        "masse",
        "größe",
        "abmessung",
        "durchmesser",
        "taille",
        "cote",
        "maat",
        "afmeting",
        "misura",
        "medida",
    ),
    "paid": (
        "paid",
        "price",
        "cost",
        "price paid",
        "eur",
        "usd",
        "value paid",
        "preis",
        "bezahlt",
        "kosten",
        "ek",
        "prix",
        "payé",
        "prijs",
        "betaald",
        "prezzo",
        "pagato",
        "precio",
    ),
    "date": (
        "date",
        "when",
        "bought",
        "acquired",
        "bought on",
        "year bought",
        "purchase date",
        "datum",
        "wann",
        "gekauft",
        "kaufdatum",
        "quand",
        "acheté",
        "wanneer",
        "gekocht",
        "quando",
        "data",
        "fecha",
    ),
    "note": (
        "note",
        "notes",
        "remark",
        "remarks",
        "comment",
        "comments",
        "info",
        "misc",
        "bemerkung",
        "anmerkung",
        "notiz",
        "kommentar",
        "hinweis",
        "remarque",
        "commentaire",
        "opmerking",
        "notitie",
        "osservazioni",
        "observaciones",
    ),
}
"""``{field: words people head such a column with}``, in several languages. Source: common practice, no source."""

_CLOSE = 86
"""How alike a header must be to a word, of 100. Source: project decision."""
_SHARE = 0.6
"""How many of a column's cells must look like something to be taken for it. Source: project decision."""
_SAMPLE = 200


@dataclass(frozen=True, slots=True)
class Guess:
    """What one column is taken for.

    Args:
        header: Its header.
        field: One of ``FIELDS``, "" for nothing.
        why: ``name`` (its header says so), ``like`` (its header nearly does), ``content`` or "".
        samples: Its first few different texts.
    """

    header: str
    field: str
    why: str
    samples: tuple[str, ...]


def guess_columns(grid: Grid) -> tuple[Guess, ...]:
    """Guess what each column is; a field is given to one column only, the surest.

    Args:
        grid: The sheet.

    Returns:
        One guess for each column, in order.
    """
    columns = [[row[at] for _, row in grid.rows[:_SAMPLE] if row[at]] for at in range(len(grid.header))]
    found: dict[int, tuple[str, str]] = {}
    for why, judge in (("name", _by_name), ("like", _by_likeness)):
        for at, header in enumerate(grid.header):
            field = judge(header) if at not in found else ""
            if field and field not in {each for each, _ in found.values()}:
                found[at] = (field, why)
    for at, texts in enumerate(columns):
        field = _by_content(texts) if at not in found else ""
        if field and field not in {each for each, _ in found.values()}:
            found[at] = (field, "content")
    return tuple(
        Guess(header, *found.get(at, ("", "")), tuple(dict.fromkeys(columns[at]))[:4])
        for at, header in enumerate(grid.header)
    )


def plain_header(text: str) -> str:
    """Return a header as it is compared: no case, accents, units in brackets or punctuation."""
    bare = re.sub(r"[(\[].*?[)\]]", " ", unicodedata.normalize("NFKD", text.casefold()))
    letters = "".join(each for each in bare if not unicodedata.combining(each))
    return " ".join(re.findall(r"[a-z0-9'/]+", letters.replace("\u00df", "ss")))


_PLAIN = {plain_header(word): field for field, words in WORDS.items() for word in words}


def _by_name(header: str) -> str:
    return _PLAIN.get(plain_header(header), "")


def _by_likeness(header: str) -> str:
    plain = plain_header(header)
    if len(plain) < 3:  # noqa: PLR2004 - two letters are like too many words
        return ""
    best = process.extractOne(plain, _PLAIN.keys(), scorer=fuzz.token_sort_ratio, score_cutoff=_CLOSE)
    return _PLAIN[best[0]] if best else ""


_DATE = re.compile(r"\d{1,2}[./-]\d{1,2}[./-]\d{2,4}\Z|\d{4}-\d{2}-\d{2}\Z")
_NUMBER = re.compile(r"(?=.*\d)(?=.*[-./\u00b7 ])[A-Z0-9][A-Z0-9./\u00b7 -]{4,}\Z")
_COUNT = re.compile(r"\d{1,3}( ?(x|pcs|st\.?))?\Z", re.IGNORECASE)

_LOOKS: tuple[tuple[str, Callable[[str], bool]], ...] = (
    ("code", lambda text: parse_code(text) is not None),
    ("date", lambda text: _DATE.match(text) is not None),
    ("number", lambda text: _NUMBER.match(text) is not None),
    ("quantity", lambda text: _COUNT.match(text) is not None),
)


def _by_content(texts: Sequence[str]) -> str:
    if not texts:
        return ""
    for field, looks in _LOOKS:
        if sum(looks(text) for text in texts) >= _SHARE * len(texts):
            return field
    return ""
