"""A form that adds a row to a log: its field names, the typed text, the findings.

Input: the form of the current request, and its outcome. Output: values for the templates. Each form
has a key of its own, and is carried out once. Accepted doubts count only for a form with exactly
the same text.
"""

import secrets
from collections.abc import Iterable, Iterator, Mapping

from flask import request

from handoff.desk import current
from handoff.desk.edits.entering import Outcome, Sent
from handoff.desk.ward import Ward
from handoff.log.fields import FIELDS, Field
from handoff.log.languages import names_of
from handoff.model.ward import Patient
from handoff.model.wording import DESK

# Names as on the blank pages; where both templates have one, the label's is used.
PARTS = ("column", "label")


def sent(whose: str, cells: Mapping[str, str]) -> Sent:
    """The form of this request; `whose` names its patient or purpose."""
    is_same = current.form("meant") == _meant(whose, cells)
    accepted = request.form.getlist("accepted") if is_same else []
    return Sent(current.form("form"), cells, tuple(accepted))


def shown(
    ward: Ward,
    fields: Iterable[Field],
    whose: str,
    form: Sent,
    outcome: Outcome,
) -> dict[str, object]:
    """The values for the template of a form."""
    doubts = [each.code for each in outcome.findings if outcome.may_accept]
    named = ward.kept("named", lambda: list(_all_named(ward)))
    return {
        "cells": form.cells,
        "labels": labels(ward),
        "hints": _hints(ward, fields),
        "terms": _terms(ward),
        "languages": _languages(ward),
        "outcome": outcome,
        "whose": whose,
        "in_place": in_place(),
        "accepted": [*form.accepted, *dict.fromkeys(doubts)],
        "meant": _meant(whose, form.cells),
        "named": [each for each in named if not in_place() or each.startswith(f"{whose} ")],
        "form": form.key or secrets.token_urlsafe(16),
    }


def of_another(key: str, patient: Patient) -> str:
    """What is said where the form of this request named the patient of this key otherwise than the
    log does now: values of somebody else may be in it. '' where it named nobody.
    """
    named = [each for each in request.form.getlist("named") if each.startswith(f"{key} ")]
    now = _named(key, patient)
    if not named or now in named:
        return ""
    was, now = (each.removeprefix(f"{key} ") for each in (named[0], now))
    return DESK.say("any.of-another", was=was, now=now)


def _named(key: str, patient: Patient) -> str:
    return f"{key} {patient.bed}, {patient.name}"


def in_place() -> bool:
    """Whether the form stands in the list of the ward, without a page around it."""
    return bool(request.values.get("in_place"))


def labels(ward: Ward) -> dict[str, str]:
    """The names of all fields."""
    named = {field.name: field.name.replace("_", " ") for field in FIELDS}
    for words in ward.words[:1]:
        for name in named:
            for part in PARTS:
                if words.has(f"blank.{part}.{name}"):
                    named[name] = words.say(f"blank.{part}.{name}")
    return named


def _terms(ward: Ward) -> dict[str, str]:
    """What the staff call the words of a log that are ticked, as on the sheets."""
    named = {word: word.replace("_", " ") for field in FIELDS for word in field.choices}
    for words in ward.words[:1]:
        known = {word: f"terms.{word}" for word in named}
        named |= {word: words.say(key) for word, key in known.items() if words.has(key)}
    return named


def _languages(ward: Ward) -> dict[str, str]:
    """The names of each language that has words for a patient, by its code."""
    setting = ward.setting
    known = setting.options(ward.now).languages
    own = setting.printing.templates
    return ward.kept("languages", lambda: {each: ", ".join(names_of(each, own)) for each in known})


def _all_named(ward: Ward) -> Iterator[str]:
    for number, each in ward.patients():
        yield _named(current.patient_key(ward.handovers[number].unit.name, each.id), each)


def _hints(ward: Ward, fields: Iterable[Field]) -> dict[str, str]:
    """The hint of each field: what may be typed."""
    return {
        field.name: words.say(f"blank.allowed.{field.kind.name.lower()}", field=field)
        for words in ward.words[:1]
        for field in fields
    }


def _meant(whose: str, cells: Mapping[str, str]) -> str:
    parts = (f"{name}={cell}" for name, cell in sorted(cells.items()))
    return current.desk().key("meant", whose, *parts)
