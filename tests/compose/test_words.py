"""What the sheets may not say: error-prone abbreviations, and numbers that are easily misread."""

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from jinja2 import Environment, FileSystemBytecodeCache

from handoff.compose import words as module
from handoff.compose.words import Words
from handoff.model.codes import finding
from handoff.model.findings import Place
from handoff.model.wording import shipped_templates
from tests.support.finding_codes import findings_by_code
from tests.support.runs import of_ward
from tests.support.sheets import read_pdf
from tests.support.wording import FORBIDDEN, misread

JINJA = re.compile(r"\{[{%#].*?[}%#]\}", re.DOTALL)
KEY = re.compile(r"^ *[\w-]+:", re.MULTILINE)


def test_the_patterns_find_what_they_are_for() -> None:
    wrong = {
        "do-not-use abbreviation": ["10 U now", "give q.d. and", "MSO4", "5 cc", "D/C home"],
        "trailing zero": ["5.0 mL"],
        "no leading zero": ["hold .5 s"],
        "no comma at 1,000": ["best 1500 mL"],
        "no space before the unit": ["1,500mL", "92%"],
        "full stop after a unit": ["goal 1,500 mL."],
        "mL written otherwise": ["1,500 ml"],
    }
    for name, wrongly in wrong.items():
        assert all(FORBIDDEN[name].search(text) for text in wrongly), name
    right = "Best 1,500 mL (92 %), hold 0.5 s, born 1958, at 10:00 of 12 May 2026, id 10442"
    assert [name for name, pattern in FORBIDDEN.items() if pattern.search(right)] == []


NOTHING_FELL = re.compile(
    r"\bno (clear )?(change|fall|drop)\b|\b(has|did) not (fall|drop|change)",
    re.IGNORECASE,
)


def test_no_words_claim_that_nothing_fell_or_changed() -> None:
    """Two in three falls of 30 % are not seen yet in the very shift, and an interval that is not
    clear holds a fall too: see the back-test.
    """
    assert NOTHING_FELL.search("No clear change of the volume")
    for path in shipped_templates().rglob("*.*"):
        assert not NOTHING_FELL.search(path.read_text()), path
    explained = (Path(__file__).parents[2] / "handoff" / "explain").glob("*.py")
    assert not [path for path in explained if NOTHING_FELL.search(path.read_text())]


def test_no_finding_has_an_error_prone_abbreviation_or_number() -> None:
    """Those of rows set aside are printed on the summary."""
    found = [each for findings in findings_by_code().values() for each in findings]
    found.append(finding("out-of-range", Place("night.csv"), low=0, high=6000, unit=" mL"))
    assert len(found) > 100
    assert [misread((each.message, each.fix)) for each in found] == [[]] * len(found)


def template_texts() -> Iterator[tuple[str, str]]:
    """The fixed words of every template; keys, conditions and facts taken out."""
    for path in sorted(shipped_templates().rglob("*.yaml")):
        lines = path.read_text(encoding="utf-8").splitlines()
        text = "\n".join(line for line in lines if not line.lstrip().startswith("#"))
        yield path.name, KEY.sub("", JINJA.sub("0", text))


@pytest.mark.parametrize(("name", "text"), list(template_texts()))
def test_no_template_has_an_error_prone_abbreviation(name: str, text: str) -> None:
    found = FORBIDDEN["do-not-use abbreviation"].findall(text)
    assert found == [], name


# Words that blame a patient or a colleague, praise the program, or alarm: common practice.
NOT_CALM = re.compile(
    r"\b(non-?complian\w*|uncooperative|refus\w*|fail\w*|lazy|careless\w*|neglect\w*|blame"
    r"|fault(?! of the program)|bad|poor|abnormal|unfortunately|amazing|excellent|powerful|smart"
    r"|alarming)\b|(?<=\w)!",
    re.IGNORECASE,
)


def test_what_blames_is_found() -> None:
    for words in ("patient refused", "Non-compliant.", "failed twice", "Well done!"):
        assert NOT_CALM.search(words), words


@pytest.mark.parametrize(("name", "text"), list(template_texts()))
def test_no_template_blames_praises_or_alarms(name: str, text: str) -> None:
    assert [found.group() for found in NOT_CALM.finditer(text)] == [], name


def test_no_sheet_of_the_sample_ward_prints_a_number_that_is_easily_misread() -> None:
    for file_name, content in of_ward().items():
        if not file_name.endswith(".pdf"):
            continue
        text = " ".join(read_pdf(content).pages)
        for name, pattern in FORBIDDEN.items():
            found = pattern.search(text)
            context = text[max(found.start() - 30, 0) : found.end() + 10] if found else ""
            assert found is None, f"{file_name}: {name}: {context}"


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which nothing is kept yet."""
    monkeypatch.setattr(module, "KEEPING", FileSystemBytecodeCache(str(tmp_path), "%s"))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    return tmp_path


def bookmark(own_folder: Path | None = None) -> str:
    """Words of one template, as the next process says them."""
    module._compiled.cache_clear()
    words = Words(ZoneInfo("UTC"), own_folder=str(own_folder) if own_folder else None)
    return words.say("bookmark", bed="4")


def test_words_are_compiled_once_for_all_starts(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert bookmark() == "Bed 4"
    (file,) = kept.iterdir()
    with monkeypatch.context() as patched:
        patched.delattr(Environment, "compile")
        assert bookmark() == "Bed 4"
    for damaged in (b"", b"no code", file.read_bytes()[:-9]):
        file.write_bytes(damaged)
        assert bookmark() == "Bed 4"


def test_words_that_changed_are_compiled_again(kept: Path) -> None:
    """Else an edition of the program would speak with the words of the one before."""
    bookmark()
    (file,) = kept.iterdir()
    environment = module._environment(isolates=False)
    bucket = module.KEEPING.get_bucket(environment, "en.bookmark False", None, "{{ other }}")
    assert bucket.code is None
    bucket.code = environment.compile("{{ other }}")
    module.KEEPING.set_bucket(bucket)
    assert bookmark() == "Bed 4"
    assert [*kept.iterdir()] == [file]


def test_a_units_own_words_are_kept_nowhere(
    kept: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    own = tmp_path_factory.mktemp("own")
    (own / "sheet.yaml").write_text("bookmark: Room {{ bed }}", encoding="utf-8")
    assert bookmark(own) == "Room 4"
    assert [*kept.iterdir()] == []


def test_where_nothing_may_be_kept_the_words_are_the_same(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert bookmark() == "Bed 4"
    assert [*kept.iterdir()] == []
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    kept.rmdir()
    assert bookmark() == "Bed 4"
