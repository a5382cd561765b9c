"""From which English each sentence of a translation was made, and what is wrong with it.

`english.yaml` in a language's folder has, by the name of each sentence, a digest of the English
from which it was translated, and one of the translation.
"""

from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path

from handoff.compose.words import WordingError, flatten
from handoff.log.languages import PATIENT_PAGE
from handoff.model.wording import shipped_templates

NOTED = "english.yaml"
PAGES = (PATIENT_PAGE, "card.yaml")  # the files of words for patients


def sentences(folder: Path) -> dict[str, str]:
    """The words of every page for patients in a folder, by their name."""
    found: dict[str, str] = {}
    for page in PAGES:
        if (folder / page).is_file():
            words = flatten(folder / page)
            found |= {name: text for name, (text, _) in words.items()}
    return {name: text for name, text in found.items() if not name.startswith("language.")}


def digest(words: str) -> str:
    return sha256(" ".join(words.split()).encode()).hexdigest()[:8]


def noted(folder: Path) -> dict[str, tuple[str, str]]:
    """The digests of the English and of the translation, by name, as they were written down."""
    path = folder / NOTED
    words = flatten(path) if path.is_file() else {}
    parted = {name: text.partition(" ") for name, (text, _) in words.items()}
    return {name: (english, own) for name, (english, _, own) in parted.items()}


def digests(english: Mapping[str, str], own: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """Both digests of each sentence that both languages have."""
    return {name: (digest(english[name]), digest(own[name])) for name in english if name in own}


def faults(folder: Path) -> Iterator[str]:
    """Each sentence that is missing, doubled, left over or stale, by its name."""
    english = sentences(shipped_templates() / "en")
    try:
        own = sentences(folder)
    except WordingError as error:
        yield f"{error.why.place.column}: {error.why.message}"
        return
    pages = {name.partition(".")[0] for name in own}
    wanted = {name: text for name, text in english.items() if name.partition(".")[0] in pages}
    before = noted(folder)
    yield from (f"{name}: missing" for name in wanted if name not in own)
    yield from (f"{name}: not in English" for name in own if name not in wanted)
    for name, (now, here) in digests(wanted, own).items():
        from_english, translated = before.get(name, ("", ""))
        if from_english != now:
            yield f"{name}: the English changed since it was translated"
        elif translated != here:
            yield f"{name}: changed since it was noted"
