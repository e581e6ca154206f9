"""``sheet`` and ``list``: any flat sheet in, and lists for people out."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stash.cli.edge import command, me, opened, say_json, with_json, with_store
from stash.cli.show import count, table

if TYPE_CHECKING:
    from stash.services.flat_facts import Offer, Proposal, Question

_FILE = click.Path(path_type=Path, dir_okay=False)
_ROWS_SHOWN = 60
_OFFERS_SHOWN = 4


@command(
    "sheet",
    "stash sheet my-shelf.csv\n"
    "stash sheet my-shelf.csv --answer 'what:clips=kind:pin_clip' --column 'Box=place' --needs-a-look look.csv\n"
    "stash sheet my-shelf.csv --accept",
)
@click.argument("file", type=_FILE)
@click.option("--accept", is_flag=True, help="Take it in, as one entry of the history; without it nothing is written.")
@click.option("--column", "columns", multiple=True, metavar="HEADER=FIELD", help="What a column is; - leaves it out.")
@click.option("--answer", "answers", multiple=True, metavar="QUESTION=ANSWER", help="Answer a question it asks.")
@click.option("--row", "rows", multiple=True, metavar="N=WHAT", help="A row is: a lot's code, new, hold or design:KEY.")
@click.option("--hold", is_flag=True, help="Keep rows with open questions out, instead of taking in what is sure.")
@click.option(
    "--needs-a-look", "look", type=_FILE, help="Write the rows that need a look here, to be mended and loaded."
)
@click.option("--of", "sheet", metavar="NAME", default="", help="Which sheet of a workbook.")
@click.option("--encoding", default="", help="How the bytes of a text file are read, such as cp1252.")
@with_store
@with_json
def sheet(
    file: Path,
    *,
    accept: bool,
    columns: tuple[str, ...],
    answers: tuple[str, ...],
    rows: tuple[str, ...],
    hold: bool,
    look: Path | None,
    sheet: str,
    encoding: str,
    db: str | None,
    as_json: bool,
) -> None:
    """Take in a shelf list as you keep it: any .csv, .xlsx or .ods with one row for each lot.

    Says first what each column and row is taken for, and what it is unsure of. What is answered is remembered by the
    sheet's headers; the same sheet later changes the lots it became instead of adding them again.
    """
    from stash.services import flat_sheet as flat

    store, data = opened(db, make=True), flat.read_file(file)
    said = _pairs(answers, "--answer") | ({"unclear": "hold"} if hold else {})
    choices = flat.Choices({}, said, _rows(rows), encoding, sheet)
    choices = flat.with_columns(file.name, data, choices, _pairs(columns, "--column"))
    proposal = flat.propose(store, file.name, data, choices)
    done = flat.accept(store, file.name, data, choices, me()) if accept else None
    if done is not None:
        proposal = flat.propose(store, file.name, data, choices)
    if look is not None:
        from stash.services.people_lists import save

        save(look, flat.rejects(proposal, look.suffix.lower()))
    if as_json:
        say_json({**proposal.as_dict(), "accepted": done is not None, "said": done.said if done else ""})
        return
    if done is None:
        _say_proposal(proposal)
    click.echo(done.said if done else "\nNothing was written; --accept takes it in.")
    if look is not None:
        click.echo(f"Written: {look}")


def _pairs(texts: Iterable[str], option: str) -> dict[str, str]:
    pairs = {}
    for text in texts:
        key, equals, value = text.partition("=")
        if not equals:
            raise click.UsageError(f"{option} {text!r} has no = in it.")
        pairs[key.strip()] = value.strip()
    return pairs


def _rows(texts: Iterable[str]) -> dict[int, str]:
    pairs = _pairs(texts, "--row")
    if not all(number.isdigit() for number in pairs):
        raise click.UsageError("--row wants the row's number, as a spreadsheet program shows it.")
    return {int(number): what for number, what in pairs.items()}


def _say_proposal(proposal: Proposal) -> None:
    click.echo(
        table(
            ("column", "taken for", "because of"),
            [(g.header, g.field, g.why or "nothing else") for g in proposal.columns],
        )
    )
    for note in proposal.notes:
        click.echo(note)
    shown = [row for row in proposal.rows if row.state != "same"]
    lines = [
        (row.number, row.state, row.title, row.lot, row.reason or "; ".join(doubt.text for doubt in row.doubts))
        for row in shown[:_ROWS_SHOWN]
    ]
    if lines:
        click.echo("\n" + table(("row", "is", "taken for", "lot", "look at"), lines))
    if len(shown) > _ROWS_SHOWN:
        click.echo(f"... and {count(len(shown) - _ROWS_SHOWN, 'more row')}.")
    _say_questions([question for question in proposal.questions if question.open])
    for gone in proposal.gone:
        click.echo(f"{gone.lot} ({gone.title}) is no longer in the sheet; it stays.")
    counted = ", ".join(f"{number} {state}" for state, number in proposal.counts.items() if number)
    click.echo(f"\n{count(len(proposal.rows), 'row')}: {counted}.")


def _say_questions(questions: list[Question]) -> None:
    if questions:
        click.echo("\nQuestions; answer with --answer 'QUESTION=ANSWER':")
        rows = [(each.key, each.text, _offered(each.offers)) for each in questions]
        click.echo(table(("question", "asks", "answers"), rows))


def _offered(offers: tuple[Offer, ...]) -> str:
    said = [_offer(offer) for offer in offers[:_OFFERS_SHOWN]]
    return "; ".join(said) + ("; ..." if len(offers) > _OFFERS_SHOWN else "")


def _offer(offer: Offer) -> str:
    from stash.fit.wording import VERDICT_WORDS

    fits = ", ".join(f"{VERDICT_WORDS[verdict]} {' '.join(models)}" for verdict, models in offer.fits[:2])
    return f"{offer.answer} ({offer.title}{f': {fits}' if fits else ''})"


class ListName(click.ParamType):  # type: ignore[type-arg]  # generic in the newest click only
    """A list for people by its name; what there is is looked up when it is asked for, as it brings much along."""

    name = "list"

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:  # noqa: ARG002 - click's
        """Return the names to choose from, for the help."""
        from stash.services.people_lists import LISTS

        return "{" + "|".join(LISTS) + "}"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the name, if there is such a list."""
        from stash.services.people_lists import LISTS

        if value not in LISTS:
            self.fail(f"There is no list {value!r}; the lists are {', '.join(LISTS)}.", param, ctx)
        return value


@command(
    "list",
    "stash list parts --out parts.xlsx\n"
    "stash list parts --where kind=piston --columns code,what,place,bolts_on --out pistons.csv\n"
    "stash list insurance --out insurance.pdf",
)
@click.argument("what", type=ListName())
@click.option("--out", "path", type=_FILE, help="Write it here: .csv, .json, .xlsx or .pdf. Else it is shown.")
@click.option("--columns", default="", metavar="A,B,...", help="Which columns, in their order; 'all' for every one.")
@click.option("--where", "filters", multiple=True, metavar="COLUMN=WORDS", help="Only rows whose cell holds the words.")
@click.option(
    "--all", "everything", is_flag=True, help="Also lots with nothing left in them and machines that are gone."
)
@with_store
@with_json
def list_(
    what: str,
    *,
    path: Path | None,
    columns: str,
    filters: tuple[str, ...],
    everything: bool,
    db: str | None,
    as_json: bool,
) -> None:
    """List for people: loose parts and what each fits, the machines, what to buy, or what to insure."""
    from stash.services.people_lists import Wish, make, render, write

    store = opened(db)
    where = _pairs(filters, "--where")
    keys = tuple(key.strip() for key in columns.split(",") if key.strip())
    if keys == ("all",):
        keys = tuple(heading.key for heading in make(store, what).choice)
    listing = make(store, what, Wish(keys, where, everything))
    if path is not None:
        write(listing, path)
        click.echo(f"Written: {path}")
    elif as_json:
        click.echo(render(listing, ".json").decode(), nl=False)
    else:
        _say_listing(listing)


def _say_listing(listing: Any) -> None:
    from stash.services.people_lists import shown

    told = [at for at, heading in enumerate(listing.headings) if heading.type != "picture"]
    rows = [[shown(listing.headings[at], row[at]) for at in told] for row in listing.rows]
    click.echo(table([listing.headings[at].name for at in told], rows))
    click.echo(f"\n{count(len(rows), 'row')}.")
