"""The limits in force as text: a table to read, and a file that a unit can edit and use.

Input: `Limits`. Output: text. Never reads a file.
"""

from handoff.limits.reading import APPROVAL, Limit, Limits, shown

KEY = (
    "Units are UCUM: Cel is °C, {..} counts things, 1 is a part of the whole (1/3 is a third).",
    "The mark memory: the source is named from memory and wants checking.",
)


def print_limits(limits: Limits) -> str:
    """Every limit in force, one a line, below the edition and the name of the unit's own file."""
    rows = [("rule", "level", "limit", "value", "unit", "mark", "source")]
    for name, rule in limits.rules.items():
        level = rule.level if rule.on else f"{rule.level}, off"
        if not rule.limits:
            rows.append((name, level, "-", "-", "-", rule.mark or "-", rule.source or "-"))
        for limit_name, limit in rule.limits.items():
            value = shown(limit.value)
            rows.append((name, level, limit_name, value, limit.unit, limit.mark, limit.source))
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    table = ["  ".join(map(str.ljust, row, widths)).rstrip() for row in rows]
    return "\n".join([*_heading(limits), "", *table, ""])


def yaml_limits(limits: Limits) -> str:
    """The limits in force as a file that a unit can edit, sign and give back."""
    key = [f"# {line}" for line in KEY]
    lines = [*UNIT_FILE_HEAD, *key, *APPROVED, f'edition: "{limits.edition}"', "", "rules:"]
    for name, rule in limits.rules.items():
        if not rule.on:
            lines.append(f"  {name}: off  # {rule.level}")
        elif not rule.limits:
            lines.append(f"  {name}: on  # {rule.level}")
        else:
            lines += [f"  {name}:  # {rule.level}", "    limits:"]
            lines += map(_yaml_limit, rule.limits, rule.limits.values())
    return "\n".join([*lines, ""])


UNIT_FILE_HEAD = """\
# The limits that cautions are compared with. Change a value within the range behind it, which holds
# only what is stricter than a published value: a looser limit is for one patient, and stands in the
# order. To switch a rule off, write `off` behind its name and delete the lines of its limits; one
# that may escalate stays on. What is left out stays as it is; delete what you do not change.
# Then say who approved these limits, and when (year-month-day).
#
""".splitlines()
APPROVED = [f"{name}:" for name in APPROVAL]


def _yaml_limit(name: str, limit: Limit) -> str:
    allowed = f"{shown(limit.at_least)} to {shown(limit.at_most)}"
    return (
        f'      {name}: {{value: {shown(limit.value)}, unit: "{limit.unit}"}}'
        f"  # {allowed}; {limit.mark}: {limit.source}"
    )


def _heading(limits: Limits) -> list[str]:
    lines = [f"Limits, edition {limits.edition}."]
    if limits.file is not None:
        lines.append(
            f"The unit's own: {limits.file}, approved by {limits.approved_by} "
            f"on {limits.approved_on}."
        )
    if limits.off:
        lines.append(f"Switched off: {', '.join(limits.off)}.")
    return [*lines, *KEY]
