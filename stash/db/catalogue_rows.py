"""Rows of the catalogue: what is true of models and designs for everybody."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from stash.db.base import Minor, Row, refers

ONE_OF_GENERATION_AND_MODEL = "(generation IS NULL) <> (model IS NULL)"
_YEARS = "from_year <= to_year"


class Maker(Row):
    """A brand."""

    __tablename__ = "makers"
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    note: Mapped[str | None]


class Family(Row):
    """A platform shared by sister models."""

    __tablename__ = "families"
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    note: Mapped[str | None]


class Generation(Row):
    """A design era inside a family."""

    __tablename__ = "generations"
    __table_args__ = (CheckConstraint(_YEARS, name="years"),)
    key: Mapped[str] = mapped_column(primary_key=True)
    family: Mapped[str] = refers("families.key")
    ordinal: Mapped[int]
    name: Mapped[str]
    from_year: Mapped[int | None]
    to_year: Mapped[int | None]
    tell: Mapped[str | None]


class Model(Row):
    """One model of a maker."""

    __tablename__ = "models"
    __table_args__ = (CheckConstraint(_YEARS, name="years"),)
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    maker: Mapped[str] = refers("makers.key")
    generation: Mapped[str] = refers("generations.key")
    from_year: Mapped[int | None]
    to_year: Mapped[int | None]
    cylinders: Mapped[int | None]
    bore_mm: Mapped[Decimal | None]
    stroke_mm: Mapped[Decimal | None]
    rated_rpm: Mapped[Decimal | None]
    note: Mapped[str | None]


class Kind(Row):
    """A sort of part."""

    __tablename__ = "kinds"
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    system: Mapped[str | None]
    safety_critical: Mapped[bool] = mapped_column(default=False, server_default=text("false"))
    caution: Mapped[str | None]
    note: Mapped[str | None]
    matched_set: Mapped[str | None]


class Measure(Row):
    """A measured attribute of a kind, or a visible tell."""

    __tablename__ = "measures"
    kind: Mapped[str] = refers("kinds.key", key=True)
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    type: Mapped[str]
    unit: Mapped[str | None]
    choices: Mapped[str | None]
    uncertainty: Mapped[Decimal | None]
    wear: Mapped[str | None]
    effort_s: Mapped[Decimal | None]
    how: Mapped[str | None]


class Design(Row):
    """One particular pattern of a kind."""

    __tablename__ = "designs"
    key: Mapped[str] = mapped_column(primary_key=True)
    kind: Mapped[str] = refers("kinds.key")
    name: Mapped[str]
    maker: Mapped[str | None] = refers("makers.key")
    generation: Mapped[str | None] = refers("generations.key")
    price: Mapped[Minor | None]
    note: Mapped[str | None]


class DesignMeasure(Row):
    """What a design measures."""

    __tablename__ = "design_measures"
    design: Mapped[str] = refers("designs.key", key=True)
    measure: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]
    minus: Mapped[Decimal | None]
    plus: Mapped[Decimal | None]


class Number(Row):
    """A part number of a maker."""

    __tablename__ = "numbers"
    __table_args__ = (
        ForeignKeyConstraint(
            ["replaced_by", "maker"],
            ["numbers.number", "numbers.maker"],
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        CheckConstraint("replaced_by <> number", name="not_itself"),
        Index(None, "design"),
    )
    number: Mapped[str] = mapped_column(primary_key=True)
    maker: Mapped[str] = refers("makers.key", key=True)
    design: Mapped[str | None] = refers("designs.key")
    replaced_by: Mapped[str | None]
    note: Mapped[str | None]


class Position(Row):
    """A place that takes a part of one kind, on a generation or a model."""

    __tablename__ = "positions"
    __table_args__ = (
        CheckConstraint(ONE_OF_GENERATION_AND_MODEL, name="generation_or_model"),
        Index(
            "uq_positions_identity",
            text("coalesce(generation, '')"),
            text("coalesce(model, '')"),
            "position",
            unique=True,
        ),
    )
    id: Mapped[int] = mapped_column(primary_key=True, sort_order=-1)
    generation: Mapped[str | None] = refers("generations.key")
    model: Mapped[str | None] = refers("models.key")
    position: Mapped[str]
    kind: Mapped[str] = refers("kinds.key")
    quantity: Mapped[int] = mapped_column(default=1, server_default="1")
    note: Mapped[str | None]


class CameOn(Row):
    """What a position left the factory with."""

    __tablename__ = "came_on"
    __table_args__ = (
        CheckConstraint(ONE_OF_GENERATION_AND_MODEL, name="generation_or_model"),
        CheckConstraint(_YEARS, name="years"),
        Index(
            "uq_came_on_identity",
            "design",
            "position",
            text("coalesce(generation, '')"),
            text("coalesce(model, '')"),
            text("coalesce(from_year, 0)"),
            text("coalesce(to_year, 0)"),
            unique=True,
        ),
    )
    id: Mapped[int] = mapped_column(primary_key=True, sort_order=-1)
    design: Mapped[str] = refers("designs.key")
    position: Mapped[str]
    generation: Mapped[str | None] = refers("generations.key")
    model: Mapped[str | None] = refers("models.key")
    from_year: Mapped[int | None]
    to_year: Mapped[int | None]
    note: Mapped[str | None]


class Mate(Row):
    """Two kinds that touch on one machine."""

    __tablename__ = "mates"
    __table_args__ = (
        ForeignKeyConstraint(
            ["kind_a", "measure_a"],
            ["measures.kind", "measures.key"],
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        ForeignKeyConstraint(
            ["kind_b", "measure_b"],
            ["measures.kind", "measures.key"],
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        CheckConstraint("low <= high", name="bounds"),
    )
    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    kind_a: Mapped[str]
    measure_a: Mapped[str]
    position_a: Mapped[str | None]
    kind_b: Mapped[str]
    measure_b: Mapped[str]
    position_b: Mapped[str | None]
    relation: Mapped[str]
    low: Mapped[Decimal | None]
    high: Mapped[Decimal | None]
    evidence: Mapped[str | None]
    source: Mapped[str | None]
    note: Mapped[str | None]


class Rule(Row):
    """A claim someone makes."""

    __tablename__ = "rules"
    __table_args__ = (
        CheckConstraint(_YEARS, name="years"),
        CheckConstraint("coalesce(design, kind) IS NOT NULL", name="says_which_part"),
        CheckConstraint("coalesce(model, generation, family, maker, machine) IS NOT NULL", name="says_which_machines"),
    )
    key: Mapped[str] = mapped_column(primary_key=True)
    verdict: Mapped[str]
    design: Mapped[str | None] = refers("designs.key")
    kind: Mapped[str | None] = refers("kinds.key")
    part_maker: Mapped[str | None] = refers("makers.key")
    part_generation: Mapped[str | None] = refers("generations.key")
    model: Mapped[str | None] = refers("models.key")
    generation: Mapped[str | None] = refers("generations.key")
    family: Mapped[str | None] = refers("families.key")
    maker: Mapped[str | None] = refers("makers.key")
    position: Mapped[str | None]
    from_year: Mapped[int | None]
    to_year: Mapped[int | None]
    companions: Mapped[str | None]
    work: Mapped[str | None]
    minutes: Mapped[int | None]
    because_mate: Mapped[str | None] = refers("mates.key")
    reason: Mapped[str | None]
    tell: Mapped[str | None]
    evidence: Mapped[str]
    source: Mapped[str | None]
    said_on: Mapped[dt.date | None]
    machine: Mapped[str | None] = refers("machines.code")
