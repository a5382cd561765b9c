"""Names that could be mixed up: who is told of whom, however many they are."""

from cProfile import Profile

from msgspec.structs import replace

from handoff.gather.roster import MOST_RELATED
from handoff.log.names import ELLIPSIS, MOST_BEDS, alike
from handoff.model.ward import Patient
from tests.support.bad_logs import PATIENT, night
from tests.support.builders import patient
from tests.support.logs import hand_over, log_of


def many(count: int, family: str = "Larkspur") -> str:
    lines = (
        PATIENT.replace("10442", str(10_000 + number))
        .replace("Larkspur, Odile", f"{family}, {chr(97 + number % 26)}{number}")
        .replace("12A", str(number))
        for number in range(count)
    )
    return "".join(lines)


def test_each_has_the_others_and_itself_by_bed() -> None:
    names = {"1": "Larkspur, Odile", "2": "Larkspur, Ida", "3": "Larkspurr, Ann", "4": "Quince, Bo"}
    people = [patient(id=each, name=name, bed=str(9 - int(each))) for each, name in names.items()]
    groups = alike(people)
    ids = {each: [other.id for other in group] for each, group in groups.items()}
    assert ids == {"1": ["3", "2", "1"], "2": ["3", "2", "1"], "3": ["3", "2", "1"]}


def test_being_alike_does_not_pass_on_to_others() -> None:
    names = {"1": "Marlow", "2": "Marlowe", "3": "Marlower"}
    groups = alike(patient(id=each, name=name, bed=each) for each, name in names.items())
    assert [each.id for each in groups["1"]] == ["1", "2"]
    assert [each.id for each in groups["2"]] == ["1", "2", "3"]
    assert [each.id for each in groups["3"]] == ["2", "3"]


def test_a_finding_names_a_few_and_says_how_many() -> None:
    handover = hand_over(log_of(night("", many(20))))
    found = [each for each in handover.findings if each.code == "similar-names"]
    assert len(found) == 20
    for each in found:
        assert len(each.related) == MOST_RELATED
        assert each.place not in each.related
        assert "19 other patients" in each.message


def test_a_sheet_names_some_beds_and_says_that_there_are_more() -> None:
    few = hand_over(log_of(night("", many(MOST_BEDS + 1))))
    assert few.name_alerts["10000"] == tuple(str(bed) for bed in range(1, MOST_BEDS + 1))
    more = hand_over(log_of(night("", many(MOST_BEDS + 2))))
    assert more.name_alerts["10000"] == (*few.name_alerts["10000"], ELLIPSIS)


def calls(people: list[Patient]) -> int:
    """How much work it is to find who is alike, in calls."""
    profile = Profile()
    profile.runcall(alike, people)
    return sum(each.callcount for each in profile.getstats())


def test_many_with_one_name_are_found_in_steps_that_grow_with_their_number() -> None:
    """Not with its square: all of one name share one group, which is made once."""
    people = [patient(id=str(n), name=f"Larkspur, {n}", bed=str(n)) for n in range(3000)]
    groups = alike(people)
    assert len(groups) == 3000
    assert len({id(group) for group in groups.values()}) == 1
    assert calls(people) < 6 * calls(people[:750])
    others = [replace(each, name=f"{int(each.id):03x}, Odile") for each in people]
    assert alike(others) == {}
    assert calls(people) < 2 * calls(others)
