"""What most classes of the program are made from: values that never change.

msgspec makes such a class forty times as fast as the standard library's `dataclasses`, which
compile its methods anew at every start, and a value of it ten times as fast.
"""

from typing import dataclass_transform

from msgspec import Struct, field


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
class Frozen(Struct, frozen=True):
    """Has named fields and is compared by them; `msgspec.structs.replace` makes a changed one."""
