"""The sheet one fills in while counting a bin: what was typed, what is expected, and what else was scanned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stash.fit.facts import Lot
from stash.kernel.cells import Fault, read_cell
from stash.kernel.codes import parse_code
from stash.kernel.tables import Cell, Column
from stash.services.counting import Found, versions
from stash.services.find import thing
from stash.services.home import lots_in
from stash.services.open import Store
from stash.web.forms import sentence

_COUNT = Column("count", Cell.WHOLE, low=0, high=1_000_000)


@dataclass(frozen=True, slots=True)
class Line:
    """One lot of the bin.

    Args:
        lot: The lot as noted.
        version: Its version, which the form carries.
        text: What was typed, "" when it was not counted.
        about: It was estimated.
        looked: The person looked for it elsewhere.
        count: The number typed, None when there is none.
        problem: What is wrong with what was typed.
    """

    lot: Lot
    version: int | None
    text: str = ""
    about: bool = False
    looked: bool = False
    count: int | None = None
    problem: str = ""

    @property
    def difference(self) -> int:
        """Found less expected; 0 when not counted."""
        return 0 if self.count is None else self.count - self.lot.quantity

    @property
    def off(self) -> bool:
        """It is not as expected, or was not counted."""
        return self.count is None or self.difference != 0


@dataclass(frozen=True, slots=True)
class Sheet:
    """The lots of a bin, and the codes scanned in it that are not noted there."""

    place: str
    lines: tuple[Line, ...]
    strays: tuple[str, ...] = ()

    @property
    def wrong(self) -> bool:
        """Something typed is no count."""
        return any(line.problem for line in self.lines)

    @property
    def differing(self) -> bool:
        """Something is not as expected, or was not counted."""
        return any(line.off for line in self.lines)

    def found(self) -> dict[str, Found]:
        """Return ``{lot: what was found}`` of the lots that were counted."""
        return {
            line.lot.code: Found(line.count, line.about, line.looked, line.version)
            for line in self.lines
            if line.count is not None
        }

    def with_stray(self, text: str) -> Sheet:
        """Return the sheet with what was scanned besides."""
        texts = [word.rsplit("/", 1)[-1] for word in text.replace(",", " ").split()]
        plain = [str(parse_code(word) or word)[:60] for word in texts]
        return replace(self, strays=tuple(dict.fromkeys((*self.strays, *plain))))

    def without_stray(self, code: str) -> Sheet:
        """Return the sheet without one that was seen to."""
        return replace(self, strays=tuple(each for each in self.strays if each != code))


@dataclass(frozen=True, slots=True)
class Stray:
    """Something scanned in a bin.

    Args:
        text: The code as read.
        lot: The lot it is on; None when it is on no lot.
        here: The lot is noted in this bin.
        title: What the code is on when it is no lot, "" when nobody has it.
        link: Its type and code, to look it up; None when nobody has it.
    """

    text: str
    lot: Lot | None
    here: bool = False
    title: str = ""
    link: tuple[str, str] | None = None


def sheet_of(store: Store, place: str, typed: Mapping[str, str], *, anew: bool = False) -> Sheet:
    """Return a bin's sheet with what was typed.

    Args:
        store: The database.
        place: The bin's code.
        typed: The form as sent; empty for a fresh one.
        anew: Take the lots' versions as they are now: the person is being told what changed.
    """
    now = versions(store, place)
    seen = (
        {} if anew else {name[2:]: int(text) for name, text in typed.items() if name[:2] == "v-" and text.isdecimal()}
    )
    lines = tuple(_line(lot, typed, {**now, **seen}.get(lot.code)) for lot in lots_in(store.stock(), place))
    return Sheet(place, lines, tuple(typed.get("strays", "").split()))


def stray_of(store: Store, place: str, text: str) -> Stray:
    """Say what a scanned code is."""
    stock = store.stock()
    lot = stock.lots.get(text)
    if lot is not None:
        return Stray(text, lot, here=lot.place == place and lot.quantity > 0, link=("lot", text))
    other = thing(store.catalogue(), stock, text)
    return Stray(text, None, title=other.title, link=(other.type, text)) if other else Stray(text, None)


def _line(lot: Lot, typed: Mapping[str, str], version: int | None) -> Line:
    code = lot.code
    text = typed.get(f"n-{code}", "").strip()
    about = typed.get(f"a-{code}") == "yes"
    for word in ("about", "~", "ca."):
        if text.casefold().startswith(word):
            text, about = text[len(word) :].strip(), True
    value = read_cell(_COUNT, text) if text else None
    problem = sentence(value) if isinstance(value, Fault) else ""
    looked = typed.get(f"l-{code}") == "yes"
    return Line(lot, version, text, about, looked, value if isinstance(value, int) else None, problem)
