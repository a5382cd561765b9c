"""The languages of patients: in which there are words, and how somebody writes one.

Input: the folders of words, and what stands in a log. Output: language codes (BCP 47). Of the words
it reads only the names of a language, and these only where a log has no code.
"""

import re
from collections.abc import Collection, Iterable
from pathlib import Path

from handoff.log import yaml_nodes
from handoff.log.cell import BadCell, Doubtful
from handoff.model.wording import shipped_templates

PATIENT_PAGE = "discharge.yaml"  # a language of patients has at least this page
STAFF_PAGE = "sheet.yaml"

_CODE = re.compile(r"[a-z]{2,3}(?:-[a-z0-9]{1,8})*", re.ASCII | re.IGNORECASE)


def languages_with(page: str, own_folder: str | None = None) -> tuple[str, ...]:
    """The code of each language that has words for a page, shipped or a unit's own."""
    folders = [shipped_templates(), *([Path(own_folder)] if own_folder else [])]
    return tuple(sorted({path.parent.name for each in folders for path in each.glob(f"*/{page}")}))


def names_of(code: str, own_folder: str | None = None) -> tuple[str, ...]:
    """What a language is called in itself and in English, once where it is the same; nothing where
    its words do not say it.
    """
    for folder in (*([Path(own_folder)] if own_folder else []), shipped_templates()):
        path = folder / code / PATIENT_PAGE
        if path.is_file():
            node, _ = yaml_nodes.load_own_file(str(path), "words-unreadable")
            head = node.values.get("language") if isinstance(node, yaml_nodes.Mapping) else None
            said = head.values if isinstance(head, yaml_nodes.Mapping) else {}
            texts = (getattr(said.get(key), "text", "") for key in ("name", "english_name"))
            if names := tuple(dict.fromkeys(filter(None, texts))):
                return names
    return ()


def language_among(language: str, known: Iterable[str]) -> str | None:
    """The known code for a language: its own, else that of the language without its region or
    script, `es` for `es-MX` (look-up of RFC 4647). None without one.
    """
    codes = {code.casefold(): code for code in known}
    wanted = language.casefold()
    while wanted and wanted not in codes:
        wanted = wanted.rpartition("-")[0]
    return codes.get(wanted)


def read_language(raw: str, known: Collection[str]) -> str | Doubtful[str]:
    """A code, such as `es` or `pt-BR`; with a warning where there are no words in the language."""
    written = raw.replace("_", "-")
    codes = ", ".join(known)
    if not _CODE.fullmatch(written):
        raise BadCell("not-a-language", hint=_named(raw.casefold(), known), codes=codes)
    if language_among(written, known):
        return written
    return Doubtful(written, (BadCell("no-words-in-language", codes=codes),))


def _named(name: str, known: Collection[str]) -> str | None:
    """The language that has this name, in itself or in English."""
    for code in known:
        if name in map(str.casefold, names_of(code)):
            return code
    return None
