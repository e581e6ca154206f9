"""Random small catalogues and machines for the laws, with few values so that things meet and clash."""

from __future__ import annotations

from hypothesis import strategies as st

from stash.fit.catalogue import Catalogue
from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Fitted,
    Generation,
    Kind,
    Machine,
    Maker,
    Mate,
    Model,
    Number,
    PositionRow,
    Rule,
    SamePart,
)
from stash.fit.intervals import interval
from stash.kernel.years import ALL_YEARS, Years

KINDS = ("ka", "kb", "kc", "kd")
MEASURES = ("size", "word")
MODELS = ("m1", "m2", "m3")
MAKERS = ("x", "y")
ERAS = ("g1", "g2")
FAMILIES = ("f1", "f2")

maybe_year = st.none() | st.integers(1970, 1975)
spans = st.just(ALL_YEARS) | st.tuples(maybe_year, maybe_year).map(
    lambda ends: Years(*sorted(ends)) if None not in ends else Years(*ends)
)
sizes = st.tuples(st.integers(1, 4), st.sampled_from([0, 0, 0, 1])).map(lambda pair: interval(*pair))
words = st.sampled_from(["yes", "no"])
measured = st.fixed_dictionaries({}, optional={"size": sizes, "word": words})


@st.composite
def design_rows(draw, kinds):
    return tuple(
        Design(
            f"{kind}{place}",
            kind,
            maker=draw(st.sampled_from(["", *MAKERS])),
            generation=draw(st.sampled_from(["", *ERAS])),
            price_minor=draw(st.none() | st.integers(0, 3)),
            values=draw(measured),
        )
        for kind in kinds
        for place in range(draw(st.integers(1, 4)))
    )


@st.composite
def mate_rows(draw, kinds, positions):
    rows = []
    for place in range(draw(st.integers(1, 5))):
        kind_a, kind_b = draw(st.sampled_from(kinds)), draw(st.sampled_from(kinds))
        measure = draw(st.sampled_from(MEASURES))
        low = draw(st.sampled_from([None, -1, 0, 0, 1])) if measure == "size" else None
        high = draw(st.sampled_from([None, 0, 1, 1])) if measure == "size" else None
        relation = draw(st.sampled_from(["same", "gap"])) if measure == "size" else "same"
        if low is not None and high is not None and low > high:
            low = high
        named = draw(st.booleans()) if kind_a == kind_b else draw(st.sampled_from([False, False, False, True]))
        at_a = [name for name, kind in positions if kind == kind_a]
        at_b = [name for name, kind in positions if kind == kind_b]
        rows.append(
            Mate(
                f"mate{place}",
                f"mate{place}",
                kind_a,
                measure,
                kind_b,
                measure,
                relation,
                low,
                high,
                draw(st.sampled_from(["", *at_a])) if named else "",
                draw(st.sampled_from(["", *at_b])) if named else "",
            )
        )
    return tuple(rows)


@st.composite
def rule_rows(draw, designs, mates, positions, most=6):
    rows = []
    for place in range(draw(st.integers(0, most))):
        design = draw(st.none() | st.sampled_from(designs))
        column = draw(st.sampled_from(["model", "generation", "family", "maker"]))
        narrow = design is not None and draw(st.booleans())
        column = "model" if narrow else column
        target = {"model": MODELS, "generation": ERAS, "family": FAMILIES, "maker": MAKERS}[column]
        verdict = draw(st.sampled_from(["bolts_on", "with_companions", "with_work", "wont_fit"]))
        rows.append(
            Rule(
                f"r{place}",
                verdict,
                "bench" if narrow else draw(st.sampled_from(["bench", "book", "measured", "word"])),
                design=design.key if design else "",
                kind=draw(st.sampled_from(["", design.kind])) if design else draw(st.sampled_from(KINDS)),
                part_maker="" if design else draw(st.sampled_from(["", "", *MAKERS])),
                part_generation="" if design else draw(st.sampled_from(["", "", *ERAS])),
                position=design.kind if narrow else draw(st.sampled_from(["", "", *(name for name, _ in positions)])),
                years=draw(spans),
                companions=((draw(st.sampled_from(designs)).key,),) if verdict == "with_companions" else (),
                because_mate=draw(st.sampled_from(["", *(mate.key for mate in mates)])),
                **{column: draw(st.sampled_from(target))},
            )
        )
    return tuple(rows)


@st.composite
def same_part_rows(draw, designs):
    """Designs of some kinds that a standard makes one part, each in one of them at most."""
    rows = []
    for kind in sorted({design.kind for design in designs}):
        keys = [design.key for design in designs if design.kind == kind]
        beside = draw(st.sets(st.sampled_from(keys)))
        if len(beside) > 1:
            rows.append(SamePart(f"{kind} standard", "ISO", frozenset(beside)))
    return tuple(rows)


@st.composite
def catalogues(draw, *, most_rules=6, standard=False):
    """One family tree of three models, two to four kinds in up to five positions, a few designs of each."""
    kinds = KINDS[: draw(st.integers(2, 4))]
    positions = [(kind, kind) for kind in kinds]
    positions += [(f"{kind}-too", kind) for kind in draw(st.lists(st.sampled_from(kinds), max_size=1))]
    designs = draw(design_rows(kinds))
    mates = draw(mate_rows(kinds, positions))
    rows = [PositionRow(era, "", name, kind) for era in ERAS for name, kind in positions]
    rows += [
        PositionRow("", draw(st.sampled_from(MODELS)), name, kind, 0)
        for name, kind in draw(st.lists(st.sampled_from(positions), max_size=1))
    ]
    came = []
    for name, kind in positions:
        of_kind = [design.key for design in designs if design.kind == kind]
        for _ in range(draw(st.integers(0, 3))):
            own = draw(st.booleans())
            came.append(
                CameOn(
                    draw(st.sampled_from(of_kind)),
                    name,
                    "" if own else draw(st.sampled_from(ERAS)),
                    draw(st.sampled_from(MODELS)) if own else "",
                    draw(spans),
                )
            )
    keys = [design.key for design in designs]
    numbers = [
        Number(f"N{place}", "x", draw(st.sampled_from(["", *keys])), f"N{place + 1}" if draw(st.booleans()) else "")
        for place in range(draw(st.integers(0, 4)))
    ]
    models = [
        Model(name, name, draw(st.sampled_from(MAKERS)), draw(st.sampled_from(ERAS)), draw(spans)) for name in MODELS
    ]
    return Catalogue(
        makers=tuple(Maker(key, key) for key in MAKERS),
        families=tuple(Family(key, key) for key in FAMILIES),
        generations=(Generation("g1", "f1", 1, "g1"), Generation("g2", draw(st.sampled_from(FAMILIES)), 2, "g2")),
        models=tuple(models),
        kinds=tuple(Kind(key, key) for key in kinds),
        designs=designs,
        numbers=tuple(numbers),
        position_rows=tuple({(row.model, row.generation, row.position): row for row in rows}.values()),
        came_on=tuple(dict.fromkeys(came)),
        mates=mates,
        rules=draw(rule_rows(designs, mates, positions, most_rules)),
        same_parts=draw(same_part_rows(designs)) if standard else (),
    )


@st.composite
def machines(draw, catalogue):
    """A machine of one of the models, some positions looked at."""
    model = catalogue.model[draw(st.sampled_from(MODELS))]
    fitted = {}
    for position in catalogue.positions[model.key].values():
        if draw(st.booleans()):
            of_kind = [design.key for design in catalogue.designs_of_kind[position.kind]]
            fitted[position.name] = Fitted(
                draw(st.sampled_from(["present", "present", "present", "missing", "faulty", "unknown"])),
                draw(st.sampled_from(["", *of_kind, *of_kind])),
                values=draw(st.sampled_from([{}, {}, {"size": interval(2)}])),
            )
    return Machine("M", model.key, draw(maybe_year), fitted=fitted)


def questions(catalogue):
    """Every (design, model, position) whose kinds agree."""
    return [
        (design, model, position.name)
        for model, sheet in catalogue.positions.items()
        for position in sheet.values()
        for design in catalogue.designs_of_kind.get(position.kind, ())
    ]
