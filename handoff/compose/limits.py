"""The limits in force in words: for the foot of each page, what the unit's own file changed.

Input: limits and words. Output: finished words. Decides no limit.
"""

from collections.abc import Sequence

from handoff.compose.words import Words
from handoff.limits.reading import Limits, shown
from handoff.model.verdicts import Level

MOST_CHANGES = 8  # at the foot of a page; the summary has all


def limits_in_force(limits: Limits, words: Words) -> str:
    """Whose limits are in force, with what the unit changed; where that is too much, the gravest
    of it, and how much more the summary has.
    """
    changed = limit_changes(limits, words)
    more = max(len(changed) - MOST_CHANGES, 0)
    return words.say("standing.limits", limits=limits, changed=changed[:MOST_CHANGES], more=more)


def limit_changes(limits: Limits, words: Words) -> Sequence[str]:
    """Each limit that the unit changed, with its usual value, and each rule that it switched off:
    the gravest first, then in printing order.
    """
    changes = [
        (rule, words.say("standing.switched_off", words=words.say(f"limits.{rule}.off")))
        for rule in limits.off
    ]
    for rule, name in limits.changed:
        limit = limits.limit(rule, name)
        named = words.say(f"limits.{rule}.{name}", value=shown(limit.value))
        own = words.say("standing.changed", words=named, usual=shown(limit.usual))
        changes.append((rule, own))
    rules, levels = list(limits.rules), list(Level)
    changes.sort(
        key=lambda each: (levels.index(Level(limits.level(each[0]))), rules.index(each[0]))
    )
    return [each for _, each in changes]
