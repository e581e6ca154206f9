"""The table gives what the plain judge gives, cell for cell, also after a rule was changed."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design
from stash.fit.facts import Rule
from stash.fit.table import Cell, VerdictTable
from stash.fit.verdicts import judge_model
from stash.kernel.years import Years
from tests.fit.reading import Given, case_files, load
from tests.fit.small_worlds import catalogues, questions, rule_rows

NOTHING = Rule("nothing", "bolts_on", "word")
thorough = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))


def judged(catalogue, design, model, position):
    """The plain judge's findings, neighbours with one verdict run together."""
    cells = []
    for finding in judge_model(catalogue, part_of_design(design), model, position):
        if cells and cells[-1].verdict == finding.verdict:
            cells[-1] = Cell(finding.verdict, Years(cells[-1].years.from_year, finding.years.to_year))
        else:
            cells.append(Cell(finding.verdict, finding.years))
    return tuple(cells)


def assert_same(table, catalogue):
    asked = questions(catalogue)
    rows = {row.design: dict(row.items()) for row in table.rows()}
    assert {(key, *target) for key, cells in rows.items() for target in cells} == {
        (design.key, model, position) for design, model, position in asked
    }
    for design, model, position in asked:
        assert rows[design.key][model, position] == judged(catalogue, design, model, position), (
            design.key,
            model,
            position,
        )


@thorough
@given(catalogues(standard=True))
def test_the_table_is_the_plain_judge_cell_for_cell(catalogue):
    assert_same(VerdictTable(catalogue), catalogue)


@thorough
@given(st.data())
def test_a_changed_rule_changes_the_table_as_if_it_were_made_anew(data):
    catalogue = data.draw(catalogues(most_rules=4, standard=True))
    positions = sorted({(row.position, row.kind) for row in catalogue.position_rows})
    table = VerdictTable(catalogue)
    list(table.rows())
    for place in range(3):
        drawn = data.draw(rule_rows(catalogue.designs, catalogue.mates, positions, 1))
        rule = (
            replace(drawn[0], key=data.draw(st.sampled_from(["r0", "r1", "new"])))
            if drawn
            else Rule("r0", "bolts_on", "word")
        )
        table = table.with_rule(rule)
        anew = Catalogue(**{name: getattr(table.catalogue, name) for name in Catalogue.__dataclass_fields__})
        assert sorted(anew.rules, key=lambda row: row.key) == sorted(
            {**{row.key: row for row in catalogue.rules}, rule.key: rule}.values(), key=lambda row: row.key
        )
        catalogue = anew
        assert_same(table, anew)
        if place == 2:
            assert table.catalogue.rulebook.rule(rule.key) == rule


@pytest.mark.parametrize("path", case_files(), ids=lambda path: path.stem)
def test_the_table_agrees_with_every_worked_case(path):
    catalogue = Given(load(path)["tables"]).catalogue
    assert_same(VerdictTable(catalogue), catalogue)


def test_one_cell_can_be_asked_for():
    catalogue = Given(load(case_files()[0])["tables"]).catalogue
    design, model, position = questions(catalogue)[0]
    assert VerdictTable(catalogue).cell(design.key, model, position) == judged(catalogue, design, model, position)


def test_a_rule_that_refuses_the_only_companion_is_heeded_at_once_and_so_is_its_change():
    tables = {
        "models": "key\nkestrel\nrook",
        "positions": "position\npin\nrod",
        "designs": "key, kind, values\npin-12, pin, size=12\nrod-10, rod, size=10\nrod-12, rod, size=12",
        "came_on": "design, position\nrod-10, rod",
        "mates": "key, kind_a, kind_b\npin-rod, pin, rod",
    }
    table = VerdictTable(Given(tables).catalogue)

    def verdicts(now):
        return [cell.verdict for cells in now.row("pin-12").cells for cell in cells]

    assert verdicts(table) == ["with_companions", "with_companions"]
    refusing = table.with_rule(Rule("no", "wont_fit", "word", design="rod-12", model="kestrel"))
    assert verdicts(refusing) == ["wont_fit", "with_companions"]
    moved = refusing.with_rule(Rule("no", "wont_fit", "word", design="rod-12", model="rook"))
    assert verdicts(moved) == ["with_companions", "wont_fit"]
    softer = moved.with_rule(Rule("no", "with_work", "word", design="rod-12", model="rook"))
    assert verdicts(softer) == ["with_companions", "with_companions"]
    assert verdicts(table) == ["with_companions", "with_companions"]


@pytest.mark.parametrize("path", case_files(), ids=lambda path: path.stem)
def test_forgetting_what_was_weighed_changes_nothing(path, monkeypatch):
    monkeypatch.setattr("stash.fit.outright._MOST_KEPT", 1)
    monkeypatch.setattr("stash.fit.frames._MOST_KEPT", 1)
    monkeypatch.setattr("stash.fit.refusals._MOST_MODELS", 1)
    catalogue = Given(load(path)["tables"]).catalogue
    assert_same(VerdictTable(catalogue), catalogue)


def test_models_in_one_state_share_a_frame():
    tables = {
        "models": "key, years\nkestrel, 1970-1972\nrook, 1971-1974\nwren, 1970-1974",
        "positions": "position\npin\nrod",
        "designs": "key, kind, values\npin-12, pin, size=12\nrod-10, rod, size=10\nrod-12, rod, size=12",
        "came_on": "design, position, generation, model, years\nrod-10, rod, g1, ,\nrod-12, rod, , wren, 1972-",
        "mates": "key, kind_a, kind_b\npin-rod, pin, rod",
    }
    table = VerdictTable(Given(tables).catalogue)
    assert table.row("pin-12").cells == (
        (Cell("with_companions", Years(1970, 1972)),),
        (Cell("with_companions", Years(1971, 1974)),),
        (Cell("unknown", Years(1970, 1971)), Cell("likely", Years(1972, 1974))),
    )
    assert len(table.frames) == 3


def test_a_rule_of_a_model_and_another_maker_is_about_nothing():
    catalogue = Given(load(case_files()[0])["tables"]).catalogue
    design, model, _ = questions(catalogue)[0]
    table = VerdictTable(catalogue)
    before = table.row(design.key)
    stray = Rule("stray", "wont_fit", "bench", design=design.key, model=model, maker="nobody")
    assert table.with_rule(stray).row(design.key) == before


class Meanwhile(str):
    """A kind that, while it is compared, lets another question be asked of the same catalogue."""

    __slots__ = ("asked",)
    __hash__ = str.__hash__

    def __eq__(self, other):
        self.asked()
        return str(self) == str(other)

    def __ne__(self, other):
        return not self == other


def test_a_rule_may_be_tried_while_another_thread_asks_the_same_catalogue():
    catalogue = Given(load(case_files()[0])["tables"]).catalogue
    design, model, position = questions(catalogue)[0]
    kind = Meanwhile("another kind")
    of_model = catalogue.refusals[model] = {(position, kind, None): frozenset()}
    kind.asked = lambda: of_model.setdefault((position, "third", len(of_model)), frozenset())
    tried = catalogue.with_rule(Rule("try", "wont_fit", "bench", design=design.key, model=model))
    assert tried.refusals[model].keys() == {(position, "another kind", None)}
    assert len(of_model) > 1
