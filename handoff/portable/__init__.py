"""What differs between systems, and nothing of it elsewhere: locks, rights, flushing, memory,
waking a run that takes too long, a port of one's own.

Input: paths, descriptors, sockets. Output: the same from both modules, `posix` and `windows`, of
which this machine's stands here. Knows nothing of logs and sheets.
"""

import sys

if sys.platform == "win32":
    from handoff.portable.windows import (
        START_METHOD,
        alarm,
        claim,
        exchange,
        flush,
        in_use,
        is_held_open,
        is_taken,
        locked,
        make_folder,
        move,
        open_owners,
        others_may_read,
        peak_memory_mb,
        reason,
        set_rights,
    )
else:
    from handoff.portable.posix import (
        START_METHOD,
        alarm,
        claim,
        exchange,
        flush,
        in_use,
        is_held_open,
        is_taken,
        locked,
        make_folder,
        move,
        open_owners,
        others_may_read,
        peak_memory_mb,
        reason,
        set_rights,
    )

__all__ = [
    "START_METHOD",
    "alarm",
    "claim",
    "exchange",
    "flush",
    "in_use",
    "is_held_open",
    "is_taken",
    "locked",
    "make_folder",
    "move",
    "open_owners",
    "others_may_read",
    "peak_memory_mb",
    "reason",
    "set_rights",
]
