"""Rows of the workshop: what is owned, wanted, kept and planned."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from stash.db.base import Minor, Row, refers


class Place(Row):
    """Anywhere things are kept; places nest."""

    __tablename__ = "places"
    __table_args__ = (CheckConstraint("inside <> code", name="not_in_itself"), Index(None, "inside"))
    code: Mapped[str] = refers("codes.code", key=True)
    name: Mapped[str]
    inside: Mapped[str | None] = refers("places.code")
    note: Mapped[str | None]
    counted_on: Mapped[dt.date | None]


class Machine(Row):
    """One owned example of a model."""

    __tablename__ = "machines"
    __table_args__ = (Index(None, "model"), Index(None, "place"))
    code: Mapped[str] = refers("codes.code", key=True)
    model: Mapped[str] = refers("models.key")
    year: Mapped[int | None]
    serial: Mapped[str | None]
    state: Mapped[str]
    place: Mapped[str | None] = refers("places.code")
    acquired_on: Mapped[dt.date | None]
    from_whom: Mapped[str | None]
    paid: Mapped[Minor | None]
    value: Mapped[Decimal | None]
    note: Mapped[str | None]


class Fitted(Row):
    """What a machine carries at a position now."""

    __tablename__ = "fitted"
    machine: Mapped[str] = refers("machines.code", key=True)
    position: Mapped[str] = mapped_column(primary_key=True)
    state: Mapped[str]
    design: Mapped[str | None] = refers("designs.key")
    condition: Mapped[str | None]
    note: Mapped[str | None]


class FittedMeasure(Row):
    """What was measured on a fitted part."""

    __tablename__ = "fitted_measures"
    __table_args__ = (
        ForeignKeyConstraint(
            ["machine", "position"],
            ["fitted.machine", "fitted.position"],
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
    )
    machine: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[str] = mapped_column(primary_key=True)
    measure: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]


class Lot(Row):
    """Identical loose parts; ``quantity`` and ``place`` are what the movements add up to."""

    __tablename__ = "lots"
    __table_args__ = (
        Index(None, "kind"),
        Index(None, "design"),
        Index(None, "place"),
        Index(None, "from_machine"),
    )
    code: Mapped[str] = refers("codes.code", key=True)
    kind: Mapped[str] = refers("kinds.key")
    design: Mapped[str | None] = refers("designs.key")
    quantity: Mapped[int]
    condition: Mapped[str] = mapped_column(default="unknown", server_default="unknown")
    checked: Mapped[str | None]
    place: Mapped[str | None] = refers("places.code")
    number_seen: Mapped[str | None]
    from_machine: Mapped[str | None] = refers("machines.code")
    acquired_on: Mapped[dt.date | None]
    paid: Mapped[Minor | None]
    note: Mapped[str | None]
    counted_on: Mapped[dt.date | None]
    from_position: Mapped[str | None]
    about: Mapped[bool | None]


class LotMeasure(Row):
    """What was measured on the parts of a lot."""

    __tablename__ = "lot_measures"
    lot: Mapped[str] = refers("lots.code", key=True)
    measure: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]


class Wanted(Row):
    """A model wanted for the collection."""

    __tablename__ = "wanted"
    model: Mapped[str] = refers("models.key", key=True)
    value: Mapped[Decimal | None]
    note: Mapped[str | None]


class LawLine(Row):
    """A displacement where a class of vehicle or tool ends."""

    __tablename__ = "law_lines"
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    up_to_cm3: Mapped[Decimal]
    note: Mapped[str | None]


class Build(Row):
    """A machine to be completed."""

    __tablename__ = "builds"
    __table_args__ = (CheckConstraint("coalesce(model, machine) IS NOT NULL", name="model_or_machine"),)
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    model: Mapped[str | None] = refers("models.key")
    machine: Mapped[str | None] = refers("machines.code")
    value: Mapped[Decimal | None]
    budget: Mapped[Minor | None]
    status: Mapped[str]
    note: Mapped[str | None]


class BuildPart(Row):
    """What the owner has already decided for a build."""

    __tablename__ = "build_parts"
    __table_args__ = (
        Index(
            "uq_build_parts_identity",
            "build",
            "position",
            text("coalesce(design, '')"),
            text("coalesce(lot, '')"),
            unique=True,
        ),
        Index(None, "lot"),
    )
    id: Mapped[int] = mapped_column(primary_key=True, sort_order=-1)
    build: Mapped[str] = refers("builds.key")
    position: Mapped[str]
    design: Mapped[str | None] = refers("designs.key")
    lot: Mapped[str | None] = refers("lots.code")
    note: Mapped[str | None]
