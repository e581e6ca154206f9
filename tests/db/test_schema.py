"""The mapped classes, the tables' description and the migrations say the same."""

import re
import shutil
import warnings

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import JSON, BigInteger, Boolean, Column, Date, Integer, Text, UniqueConstraint, inspect, text
from sqlalchemy import Table as SqlTable
from sqlalchemy.exc import IntegrityError

from stash.db.find_rows import is_ours
from stash.db.migrations.__main__ import main as draft_migration
from stash.db.models import ROWS, Base, Micro, Moment
from stash.db.upgrade import HEAD, MIGRATIONS
from stash.kernel.tables import TABLES, Cell

TYPES = {
    Cell.WHOLE: Integer,
    Cell.YEAR: Integer,
    Cell.EXACT: Micro,
    Cell.MONEY: BigInteger,
    Cell.YES_NO: Boolean,
    Cell.DATE: Date,
}
OWN = ("id", "version")


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_mapped_table_has_the_columns_of_its_description(table):
    columns = [column for column in ROWS[table.name].__table__.columns if column.name not in OWN]
    assert tuple(column.name for column in columns) == table.names
    for column, described in zip(columns, table.columns, strict=True):
        assert type(column.type) is TYPES.get(described.cell, Text), column
        assert column.nullable is not (described.required or bool(described.default)), column


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_reference_is_a_foreign_key_that_follows_renames(table):
    sql = ROWS[table.name].__table__
    for described in table.columns:
        targets = {key.column.table.name: key for key in sql.c[described.name].foreign_keys}
        targets.pop("codes", None)
        if described.ref and described.name not in {"kind_a", "kind_b"} and table.name != "fitted_measures":
            assert described.ref in targets, described
        assert all(key.onupdate == "CASCADE" for key in targets.values())


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_tables_identity_is_unique_in_the_database(table):
    sql = ROWS[table.name].__table__
    keys = [tuple(column.name for column in sql.primary_key)]
    keys += [
        tuple(
            re.sub(r"coalesce\((\w+),.*", r"\1", str(expression).rpartition(".")[2]) for expression in index.expressions
        )
        for index in sql.indexes
        if index.unique
    ]
    assert not any(isinstance(constraint, UniqueConstraint) for constraint in sql.constraints)
    assert tuple(sorted(table.identity)) in {tuple(sorted(key)) for key in keys}


def test_the_newest_migration_is_the_one_the_quick_start_expects():
    scripts = ScriptDirectory(str(MIGRATIONS))
    assert scripts.get_current_head() == HEAD


def test_the_next_migration_is_drafted_and_would_change_nothing_now(tmp_path):
    folder = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    draft = draft_migration("What changes", folder).read_text()
    assert '"""What changes."""' in draft
    assert f"down_revision = '{HEAD}'" in draft
    assert re.search(r"def upgrade\(\) -> None:\n(    #.*\n)*    pass\n", draft)


def test_a_drafted_migration_names_plain_types(tmp_path):
    folder = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    added = SqlTable("added", Base.metadata, Column("size", Micro), Column("at", Moment), Column("more", JSON))
    try:
        draft = draft_migration("Add", folder).read_text()
    finally:
        Base.metadata.remove(added)
    for plain in ("'size', sa.BigInteger()", "'at', sa.DateTime(timezone=True)", "'more', sa.JSON()"):
        assert plain in draft


def test_migrations_lead_to_exactly_the_mapped_tables(store):
    with warnings.catch_warnings():
        # SQLite can't tell Alembic about indexes on expressions; the next test looks at those
        warnings.filterwarnings("ignore", message=".*expression-based index.*")
        with store.engine.connect() as connection:
            told = {"compare_server_default": True, "include_name": lambda name, _type, _parents: not is_ours(name)}
            context = MigrationContext.configure(connection, opts=told)
            assert compare_metadata(context, Base.metadata) == []


def test_migrations_make_every_index_and_every_check(store):
    with store.engine.connect() as connection:
        if store.engine.dialect.name == "sqlite":
            rows = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'index'")).scalars()
        else:
            rows = connection.execute(text("SELECT indexname FROM pg_indexes WHERE schemaname = 'public'")).scalars()
        indexes = set(rows)
        checks = {
            (name, check["name"])
            for name in inspect(connection).get_table_names()
            for check in inspect(connection).get_check_constraints(name)
        }
    for table in Base.metadata.tables.values():
        assert {index.name for index in table.indexes} <= indexes
        wanted = {(table.name, str(c.name)) for c in table.constraints if c.__visit_name__ == "check_constraint"}
        assert wanted <= checks


@pytest.mark.parametrize(
    ("statement", "broken"),
    [
        ("INSERT INTO makers (key, name) VALUES ('m', 'a'), ('m', 'b')", "two makers of one key"),
        ("INSERT INTO machines (code, model, state) VALUES ('AAAAA1', 'nowhere', 'runner')", "an unknown model"),
        ("INSERT INTO builds (key, name, status) VALUES ('b', 'b', 'open')", "a build of nothing"),
        ("INSERT INTO wanted (model, value) VALUES ('m', -1)", "a worth below nothing"),
        ("INSERT INTO families (key, name) VALUES (NULL, 'f')", "a family without a key"),
    ],
    ids=lambda value: value if " INTO " not in value else "",
)
def test_the_database_itself_refuses(store, statement, broken):
    with pytest.raises(IntegrityError), store.engine.begin() as connection:
        connection.execute(text(statement))
