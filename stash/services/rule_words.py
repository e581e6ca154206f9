"""A rule as one sentence: this goes so on that, because of this, on whose word."""

from __future__ import annotations

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Rule
from stash.fit.wording import EVIDENCE_WORDS, design_name
from stash.kernel.years import ALL_YEARS
from stash.services.titles import kind_name, model_title, sentence_list

SAYS = {
    "bolts_on": "goes straight on",
    "with_companions": "goes on with companions",
    "with_work": "goes on with work",
    "wont_fit": "doesn't go on",
}
"""``{verdict of a rule: the same as the verb of a sentence}``."""
_VERBS = {"bolts_on": "goes straight on", "wont_fit": "doesn't go on"}
KNOWN_BY = {
    "bench": "I fitted it myself",
    "book": "it stands in the maker's literature",
    "measured": "I measured it",
    "word": "I heard it",
}
"""``{evidence: how somebody says it}``."""


def rule_gist(catalogue: Catalogue, rule: Rule) -> str:
    """Say what a rule says of what, without why."""
    return f"{_part(catalogue, rule)} {_VERBS.get(rule.verdict, 'goes on')} {_target(catalogue, rule)}"


def rule_sentence(catalogue: Catalogue, rule: Rule) -> str:
    """Say a rule as a sentence, without a full stop."""
    said = rule_gist(catalogue, rule)
    if rule.companions:
        said += ", together with " + sentence_list(_item(catalogue, item) for item in rule.companions)
    elif rule.verdict == "with_companions":
        said += ", together with other parts"
    if rule.work or rule.verdict == "with_work":
        said += f", after this work: {rule.work}" if rule.work else ", after some work"
    if rule.reason:
        said += f", because {rule.reason}"
    source = ", ".join(text for text in (rule.source, rule.said_on) if text)
    return f"{said} ({EVIDENCE_WORDS.get(rule.evidence, rule.evidence)}{': ' + source if source else ''})"


def _part(catalogue: Catalogue, rule: Rule) -> str:
    if rule.design:
        return f"The {design_name(catalogue, rule.design)}"
    said = f"Any {kind_name(catalogue, rule.kind)}"
    if rule.part_maker:
        said += f" by {_maker(catalogue, rule.part_maker)}"
    return f"{said} of {_generation(catalogue, rule.part_generation)}" if rule.part_generation else said


def _target(catalogue: Catalogue, rule: Rule) -> str:
    said = []
    if rule.model:
        said.append(f"the {model_title(catalogue, rule.model)}" if rule.model in catalogue.model else rule.model)
    if rule.generation:
        said.append(f"machines of {_generation(catalogue, rule.generation)}")
    if rule.family:
        known = catalogue.family.get(rule.family)
        said.append(f"every machine of {known.name if known else rule.family}")
    if rule.maker:
        said.append(f"machines by {_maker(catalogue, rule.maker)}")
    text = ", ".join(said)
    if rule.machine:
        text += f" (only {rule.machine})"
    if rule.position:
        text += f", at the {rule.position}"
    return text if rule.years == ALL_YEARS else f"{text}, {rule.years}"


def _item(catalogue: Catalogue, alternatives: tuple[str, ...]) -> str:
    names = (
        design_name(catalogue, key) if key in catalogue.design else kind_name(catalogue, key) for key in alternatives
    )
    return sentence_list(names, "or")


def _maker(catalogue: Catalogue, key: str) -> str:
    return catalogue.maker[key].name if key in catalogue.maker else key


def _generation(catalogue: Catalogue, key: str) -> str:
    known = catalogue.generation.get(key)
    if known is None:
        return key
    family = catalogue.family.get(known.family)
    return f"{family.name if family else known.family}: {known.name}"
