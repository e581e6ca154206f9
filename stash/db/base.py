"""What every mapped row shares: names of constraints, exact types, the version counter."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from sqlalchemy import BigInteger, Boolean, Date, DateTime, Dialect, ForeignKey, Integer, MetaData, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, MappedColumn, declared_attr, mapped_column
from sqlalchemy.types import TypeDecorator

from stash.kernel.exact import from_micro, to_micro

NAMES = {
    "ix": "ix_%(column_0_N_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Micro(TypeDecorator[Decimal]):
    """An exact decimal kept as a whole number of millionths, the same on every engine."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        """Store millionths."""
        del dialect
        return None if value is None else to_micro(Decimal(value))

    def process_result_value(self, value: int | None, dialect: Dialect) -> Decimal | None:
        """Give back the decimal."""
        del dialect
        return None if value is None else from_micro(value)


class Moment(TypeDecorator[dt.datetime]):
    """A moment in UTC; naive moments are refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Store UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        utc = value.astimezone(dt.UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Give back UTC, with its time zone."""
        del dialect
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


Minor = Annotated[int, mapped_column(BigInteger)]
"""Money in minor units."""


class Base(DeclarativeBase):
    """The root of all mapped classes."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        str: Text,
        int: Integer,
        bool: Boolean,
        Decimal: Micro,
        dt.date: Date,
        dt.datetime: Moment,
    }


class Row(Base):
    """A row of one of the tables people see; ``version`` counts its edits, so a stale form is noticed."""

    __abstract__ = True

    version: Mapped[int] = mapped_column(default=1, server_default="1", sort_order=99)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805 - SQLAlchemy hands the class
        return {"version_id_col": cls.version}


def refers(target: str, *, key: bool = False) -> MappedColumn[Any]:
    """A column that names a row of another table.

    The check waits for the end of the transaction, so the order of writing does not matter; a renamed key
    takes its references along.

    Args:
        target: ``table.column``.
        key: It is (part of) the primary key.
    """
    return mapped_column(ForeignKey(target, onupdate="CASCADE", deferrable=True, initially="DEFERRED"), primary_key=key)
