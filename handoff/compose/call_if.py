"""When to call for one patient, in words: for every page that is read at the bedside.

Input: a `CallIf` and words. Output: a `Fact`. Chooses no limit.
"""

from itertools import groupby

from handoff.compose.words import Words
from handoff.model.call_if import CallIf
from handoff.model.pages import Fact, Rank
from handoff.model.rounding import exact


def call_if_words(call: CallIf, words: Words) -> Fact:
    """'Call if' and this patient's limits, on a line or two."""
    by_sign: list[str] = []
    for sign, values in groupby(call.values, key=lambda each: each.sign):
        ways = [words.say("call_if.at", at=each, limit=exact(each.limit)) for each in values]
        by_sign.append(words.say(f"call_if.{sign}", either=words.say("call_if.either", ways=ways)))
    symptoms = [words.say(f"terms.{each}") for each in call.symptoms]
    volume = call.volume and words.say("call_if.volume", of=call.volume)
    own = {"call": call, "signs": [*by_sign, *symptoms], "volume": volume}
    return Fact(words.say("call_if.label"), words.say("call_if.text", **own), Rank.ALWAYS)
