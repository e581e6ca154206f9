"""The health of a catalogue: what contradicts itself, what can never matter, what nobody has measured.

Nothing here raises: a catalogue with faults still answers, and this says which faults to mend first.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Site, part_of_design
from stash.fit.facts import Design, Mate, Rule
from stash.fit.intervals import Outcome
from stash.fit.mates import mate_states, stock_designs
from stash.fit.replacing import circles
from stash.fit.verdicts import judge_model
from stash.fit.wording import VERDICT_WORDS, design_name, kind_name, maker_name, mate_sentence, measure_name, said_by
from stash.kernel.years import segments

LEVELS = ("wrong", "ask", "note")
"""Worst to mildest: contradicts itself, somebody should find out, worth knowing."""


@dataclass(frozen=True, slots=True)
class HealthFinding:
    """One thing to mend or to find out.

    Args:
        level: wrong, ask or note.
        table: The table it is in.
        of: Names the row: its key, or what identifies it, such as (design, position, model).
        text: What it is.
        do: What to do about it.
    """

    level: str
    table: str
    of: tuple[str, ...]
    text: str
    do: str

    @property
    def key(self) -> str:
        """What names the row, as one text."""
        return ", ".join(self.of)


def findings(catalogue: Catalogue) -> list[HealthFinding]:
    """Look a catalogue over.

    Args:
        catalogue: The facts. A circle among replacements does not raise here, but while there is one no verdict can
            be told, and disputes are not looked for.

    Returns:
        Findings, worst first, then by table and key.
    """
    found = [finding for look in _ALWAYS for finding in look(catalogue)]
    if not circles(catalogue.numbers):
        found.extend(_disputes(catalogue))
    return sorted(dict.fromkeys(found), key=lambda each: (LEVELS.index(each.level), each.table, each.key, each.text))


def _number_circles(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for circle in circles(catalogue.numbers):
        names = ", ".join(number for _, number in circle)
        yield HealthFinding(
            "wrong",
            "numbers",
            (circle[0][1],),
            f"these numbers of {maker_name(catalogue, circle[0][0])} replace one another in a circle: {names}",
            "Clear replaced_by on the newest of them.",
        )


def _numbers_that_lead_nowhere(catalogue: Catalogue) -> Iterator[HealthFinding]:
    known = {(row.maker, row.number) for row in catalogue.numbers}
    for row in catalogue.numbers:
        if row.replaced_by and (row.maker, row.replaced_by) not in known:
            yield HealthFinding(
                "ask",
                "numbers",
                (row.number,),
                f"it is replaced by {row.replaced_by}, which is no number of {maker_name(catalogue, row.maker)}",
                "List that number with its design, or write it as it is listed.",
            )


def _stock_that_breaks(catalogue: Catalogue) -> Iterator[HealthFinding]:
    """What came together must go together: a mate that breaks between stock parts is a wrong size or a wrong row."""
    for model in catalogue.model.values():
        rows = [row for sheet in catalogue.stock_rows[model.key].values() for row in sheet]
        for years in segments(model.years, (row.years for row in rows)):
            year = years.from_year if years.from_year is not None else years.to_year
            for position in catalogue.stock_rows[model.key]:
                for key in stock_designs(catalogue, model.key, position, year):
                    part = part_of_design(catalogue.design[key])
                    for state in mate_states(catalogue, part, Site(model, position), year):
                        if state.outcome is Outcome.BREAKS:
                            yield HealthFinding(
                                "wrong",
                                "came_on",
                                (key, position, model.key),
                                "it came on it, yet its sizes break a mate with what else came on it: "
                                + mate_sentence(catalogue, part.kind, state),
                                "Measure both again, or correct the stock sheet or the mate.",
                            )


def _stock_of_another_kind(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for model in catalogue.model.values():
        sheet = catalogue.positions[model.key]
        for row in catalogue.came_on:
            kind = catalogue.design[row.design].kind if row.design in catalogue.design else ""
            about = row.model == model.key or (not row.model and row.generation == model.generation)
            place = (row.design, row.position, row.model or row.generation)
            if about and row.position not in sheet:
                text = f"{model.name} has no such position, so this row says nothing of it"
                yield HealthFinding("note", "came_on", place, text, "Add the position, or correct its name.")
            elif about and sheet[row.position].kind != kind:
                takes, this = kind_name(catalogue, sheet[row.position].kind), kind_name(catalogue, kind) or "no design"
                text = f"on {model.name} the position is for the kind {takes}, and this is {this}"
                yield HealthFinding("wrong", "came_on", place, text, "Correct the design, or the kind of the position.")


def _positions_without_stock(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for model in catalogue.model.values():
        for name, position in catalogue.positions[model.key].items():
            if not catalogue.stock_rows[model.key].get(name) and position.kind in catalogue.touches:
                yield HealthFinding(
                    "ask",
                    "positions",
                    (model.key, name),
                    "nobody has said what it left the factory with, so every mate there stays open",
                    "Add what came on it, or look at a machine nobody has touched.",
                )


def _rules_about_nothing(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for rule in catalogue.rules:
        if not any(_matches(rule, design) for design in _named_designs(catalogue, rule)):
            text = "no design matches its part columns"
            yield HealthFinding(
                "wrong", "rules", (rule.key,), text, "Correct design, kind, part_maker or part_generation."
            )
        if not (rule.model or rule.generation or rule.family or rule.maker):
            text = "it names no model, generation, family or maker"
            yield HealthFinding("wrong", "rules", (rule.key,), text, "Say which machines it is about.")
        elif not any(_reaches(catalogue, rule, model) for model in catalogue.model):
            text = "no model matches its target columns, has such a position and was made in its years"
            yield HealthFinding(
                "wrong", "rules", (rule.key,), text, "Correct model, generation, family, maker, position or years."
            )


def _named_designs(catalogue: Catalogue, rule: Rule) -> tuple[Design, ...]:
    if rule.design:
        return tuple(row for row in [catalogue.design.get(rule.design)] if row is not None)
    return catalogue.designs_of_kind.get(rule.kind, ())


def _matches(rule: Rule, design: Design) -> bool:
    return (
        rule.kind in {"", design.kind}
        and rule.part_maker in {"", design.maker}
        and rule.part_generation in {"", design.generation}
    )


def _reaches(catalogue: Catalogue, rule: Rule, model: str) -> bool:
    row = catalogue.model[model]
    if not catalogue.is_about(rule, row) or rule.years.common(row.years) is None:
        return False
    design = catalogue.design.get(rule.design)
    names = catalogue.positions_of_kind[model].get(design.kind if design else rule.kind, ())
    return rule.position in names if rule.position else bool(names)


def _companions_of_no_name(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for rule in catalogue.rules:
        for key in dict.fromkeys(key for item in rule.companions for key in item):
            if key not in catalogue.design and key not in catalogue.kind:
                text = f"its companion {key} is neither a design nor a kind"
                yield HealthFinding("wrong", "rules", (rule.key,), text, "Write the key of a design, or of a kind.")
            elif key in catalogue.design and key in catalogue.kind:
                text = f"its companion {key} is the key of a design and of a kind"
                yield HealthFinding("note", "rules", (rule.key,), text, "Give one of them another key.")
        if rule.because_mate and rule.because_mate not in catalogue.mate:
            text = f"the mate it rests on, {rule.because_mate}, is not listed"
            yield HealthFinding("wrong", "rules", (rule.key,), text, "Write the key of a mate, or leave it empty.")


def _mates_nobody_measured(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for mate in catalogue.mates:
        for kind, measure in dict.fromkeys([(mate.kind_a, mate.measure_a), (mate.kind_b, mate.measure_b)]):
            designs = catalogue.designs_of_kind.get(kind, ())
            if designs and not any(measure in row.values for row in designs):
                whose, what = kind_name(catalogue, kind), measure_name(catalogue, kind, measure)
                text = f"no {whose} has a known {what}, so it never decides anything"
                yield HealthFinding("ask", "mates", (mate.key,), text, f"Find out the {what} of each {whose} in reach.")


def _mates_that_can_not_settle(catalogue: Catalogue) -> Iterator[HealthFinding]:
    for mate in catalogue.mates:
        ends = [
            catalogue.measure.get((mate.kind_a, mate.measure_a)),
            catalogue.measure.get((mate.kind_b, mate.measure_b)),
        ]
        types = {end.type == "number" for end in ends if end is not None}
        units = {end.unit for end in ends if end is not None and end.unit}
        if len(types) > 1 or (mate.relation == "gap" and False in types):
            text = "it compares what is not two numbers or two words of one meaning, so it stays open for ever"
            yield HealthFinding(
                "wrong", "mates", (mate.key,), text, "Compare number with number, or word with word by same."
            )
        elif len(units) > 1:
            text = "its two measures have different units: " + " and ".join(sorted(units))
            yield HealthFinding("wrong", "mates", (mate.key,), text, "Keep both in one unit.")
        if _lopsided(mate):
            text = "it joins a kind with itself by an uneven gap without saying which position is a, so it can't hold"
            yield HealthFinding("wrong", "mates", (mate.key,), text, "Fill position_a and position_b.")


def _lopsided(mate: Mate) -> bool:
    """Seen from both sides, a gap within [low, high] must also lie within [-high, -low]."""
    same_ends = (mate.kind_a, mate.measure_a) == (mate.kind_b, mate.measure_b)
    if not same_ends or (mate.position_a and mate.position_b):
        return False
    low = mate.low_u if mate.relation == "gap" else mate.low_u or 0
    high = mate.high_u if mate.relation == "gap" else mate.high_u or 0
    return (low is not None and low > 0) or (high is not None and high < 0)


def _look_alikes(catalogue: Catalogue) -> Iterator[HealthFinding]:
    """Designs of one kind that no known measure tells apart, and that different models take."""
    takers: dict[str, set[str]] = defaultdict(set)
    for model, sheet in catalogue.stock_rows.items():
        for rows in sheet.values():
            for row in rows:
                takers[row.design].add(model)
    for kind, designs in catalogue.designs_of_kind.items():
        stock = [design for design in designs if design.key in takers]
        for place, one in enumerate(stock):
            for two in stock[place + 1 :]:
                if takers[one.key] != takers[two.key] and not _told_apart(one, two):
                    text = (
                        f"nothing known tells it from {design_name(catalogue, two.key)}, and different models take them"
                    )
                    do = f"Find a measure or a tell of the {kind_name(catalogue, kind)} that differs; note it on both."
                    yield HealthFinding("ask", "designs", (one.key,), text, do)


def _told_apart(one: Design, two: Design) -> bool:
    """A value known of both tells them apart when two such things can't be the same."""
    for measure in one.values.keys() & two.values.keys():
        a, b = one.values[measure], two.values[measure]
        if isinstance(a, str) or isinstance(b, str):
            if a != b:
                return True
        elif a.high_u < b.low_u or b.high_u < a.low_u:
            return True
    return False


def _disputes(catalogue: Catalogue) -> Iterator[HealthFinding]:
    """Where what counts differs: every design that a rule names or that came on a model, at each of its positions."""
    for model in catalogue.model.values():
        for name, position in catalogue.positions[model.key].items():
            spoken = {rule.design for rule in catalogue.rulebook.about(model, position.kind) if rule.design}
            spoken |= {row.design for row in catalogue.stock_rows[model.key].get(name, ())}
            for key in sorted(spoken):
                for finding in judge_model(catalogue, part_of_design(catalogue.design[key]), model.key, name):
                    if finding.verdict == "disputed":
                        sides = " against ".join(
                            f"{VERDICT_WORDS[claim.verdict]} ({said_by(claim)})" for claim in finding.counting
                        )
                        yield HealthFinding(
                            "ask",
                            "rules",
                            (key, name, model.key),
                            f"disputed, {finding.years}: {sides}",
                            "Try it on the bench and add what you found as a rule of that model, position and year.",
                        )


_ALWAYS: tuple[Callable[[Catalogue], Iterator[HealthFinding]], ...] = (
    _number_circles,
    _numbers_that_lead_nowhere,
    _stock_that_breaks,
    _stock_of_another_kind,
    _positions_without_stock,
    _rules_about_nothing,
    _companions_of_no_name,
    _mates_nobody_measured,
    _mates_that_can_not_settle,
    _look_alikes,
)
