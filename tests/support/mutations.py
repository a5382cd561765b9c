"""Logs with something wrong in them, as slips of the key, spreadsheets and bad disks make them.

`mutated(content, random)` gives the log with one to four changes: of bytes, lines, cells or keys.
All that is random comes from the generator that is given.
"""

import re
from collections.abc import Callable, Sequence
from random import Random

from handoff.log.fields import FIELDS

Mutator = Callable[[bytes, Random], bytes]

MOST_CHANGES = 4
ODD_BYTES = (
    *(b"\0", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b'"', b"'", b"\r", b"\n", b"\n\n", b"\t"),
    *(b",", b";", b":", b"- ", b"{", b"}", b"[", b"]", b"#", b"&a ", b"*a", b"!!str ", b"<<: "),
    *(b"---\n", b"...\n", b"|\n", b">\n", b"%", b"@", b"`", b"\\", b"\x0b", b"\xc2\x85"),
    "\u202e\u2028\U0001f600".encode(),
)
ODD_CELLS = (
    *(b"", b" ", b"0", b"-1", b"1e9", b"9" * 40, b"1,5", b"1.5", b"12 mL", b"1O", b"NaN", b"None"),
    *(b"2026-03-08 02:30", b"2026-11-01 01:30", b"03/04/2026 19:40", b"46088.8194", b"24:00"),
    *(b"0001-01-01", b"9999-12-31 23:59", b"2026-03-07 19:40-14:00", b"25:61", b"7pm", b"soon"),
    *(b"yes", b"no", b"away", b"told", b"exercize", b"dizzy faint", b"blew", b"=1+1", b"'=1+1"),
    *(b"1,200", b"94%", b"4 s", b"2025-03-07 19:40", b"19h40", b"1200", b"8", b"10442", b"none"),
    *(b"hold", b"resume", b"settled", b"left", b"oxygen", b"room air", b"none/dizzy", b"2 L nasal"),
    *(b"denies faint", b"2-Jan", b"10442.0", b"1.23E+11", b"#N/A", b"6am", b"730", b"x", b">2500"),
    *(b"9/30/1941", b"told #2", b"154 lb", b"3/10", b"RA", b"yes.", b"M", b"Patient ID", b"00718"),
    *("１９：４０".encode(), "1\u00a0200".encode(), "2026\u201303\u201307 19:40".encode()),
    *(b'"', b'""', b"a\nb", b"x" * 3000, "Ö".encode(), "²".encode(), "\u0663".encode()),
)
NAMES = tuple(field.path.encode() for field in FIELDS) + tuple(f.name.encode() for f in FIELDS)


def mutated(content: bytes, random: Random) -> bytes:
    """The log with one to four things wrong."""
    for _ in range(random.randint(1, MOST_CHANGES)):
        content = random.choice(MUTATORS)(content, random)
    return content


def _flip(content: bytes, random: Random) -> bytes:
    at = random.randrange(len(content) + 1)
    changed = bytes([content[at] ^ 1 << random.randrange(8)]) if at < len(content) else b""
    return content[:at] + changed + content[at + 1 :]


def _delete(content: bytes, random: Random) -> bytes:
    start, end = _slice(content, random)
    return content[:start] + content[end:]


def _repeat(content: bytes, random: Random) -> bytes:
    start, end = _slice(content, random)
    return content[:end] + content[start:end] + content[end:]


def _insert(content: bytes, random: Random) -> bytes:
    at = random.randrange(len(content) + 1)
    return content[:at] + random.choice(ODD_BYTES) * random.choice((1, 1, 1, 2, 25)) + content[at:]


def _cut(content: bytes, random: Random) -> bytes:
    return content[: random.randrange(len(content) + 1)]


def _slice(content: bytes, random: Random) -> tuple[int, int]:
    start = random.randrange(len(content) + 1)
    return start, min(start + random.choice((1, 1, 2, 8, 40, 400)), len(content))


def _move_line(content: bytes, random: Random) -> bytes:
    lines = content.splitlines(keepends=True) or [b""]
    line = lines.pop(random.randrange(len(lines)))
    lines.insert(random.randrange(len(lines) + 1), line)
    return b"".join(lines)


def _delete_line(content: bytes, random: Random) -> bytes:
    lines = content.splitlines(keepends=True) or [b""]
    del lines[random.randrange(len(lines))]
    return b"".join(lines)


def _repeat_line(content: bytes, random: Random) -> bytes:
    lines = content.splitlines(keepends=True) or [b""]
    line = random.choice(lines)
    lines.insert(random.randrange(len(lines) + 1), line)
    return b"".join(lines)


def _indent_line(content: bytes, random: Random) -> bytes:
    lines = content.splitlines(keepends=True) or [b""]
    at = random.randrange(len(lines))
    lines[at] = random.choice((b" ", b"  ", b"\t", b"- ")) + lines[at]
    return b"".join(lines)


_PIECES = re.compile(rb"[^,;\t\n{}\[\]:]+")  # cells, values and keys


def _replace_piece(content: bytes, random: Random) -> bytes:
    """A cell, value or key that is an odd one, or that of another place."""
    pieces = list(_PIECES.finditer(content))
    if not pieces:
        return content
    at, other = random.choice(pieces), random.choice(pieces)
    new = random.choice((random.choice(ODD_CELLS), random.choice(NAMES), other.group(), b""))
    return content[: at.start()] + new + content[at.end() :]


def _replace_everywhere(content: bytes, random: Random) -> bytes:
    """One text that stands in many places, such as an id or a date, as another one in all."""
    pieces = _PIECES.findall(content)
    if not pieces:
        return content
    return content.replace(
        random.choice(pieces), random.choice((*ODD_CELLS, random.choice(pieces)))
    )


def _retype(content: bytes, random: Random) -> bytes:
    """As another program would save it."""
    text = content.decode("utf-8", "replace")
    encoding = random.choice(("utf-16", "utf-16-le", "windows-1252", "utf-8-sig", "utf-32"))
    return text.encode(encoding, "replace")


def _relimit(content: bytes, random: Random) -> bytes:
    old, new = random.choice(
        ((b",", b";"), (b";", b","), (b",", b"\t"), (b"\n", b"\r\n"), (b"\n", b"\r"))
    )
    return content.replace(old, new)


MUTATORS: Sequence[Mutator] = (
    *(_flip, _delete, _repeat, _insert, _cut, _move_line, _delete_line, _repeat_line, _indent_line),
    *(_replace_piece, _replace_piece, _replace_piece, _replace_everywhere, _retype, _relimit),
)
