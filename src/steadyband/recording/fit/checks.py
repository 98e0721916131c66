"""Files in which fitdecode might fail in a way of its own, so that it must read them itself."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from steadyband.recording.fit.block import Block, Offsets
from steadyband.recording.fit.profile import TIMESTAMP_NUM, Slot
from steadyband.recording.not_covered import NotCovered

_EVENT_TIMESTAMP, _EVENT_TIMESTAMP_12 = 9, 10
_NAMED_TIME = 0x10000000


def check_times(blocks: Sequence[Block]) -> None:
    """Raises NotCovered where a compressed time would count on from something that is no usual timestamp."""
    for block in blocks:
        block.shape.time  # noqa: B018


def check_heart_rate(blocks: Sequence[Block]) -> None:
    """Raises NotCovered unless all stored beats (message hr) count on from a dated message before them."""
    counting = [(block, slot) for block in blocks for slot in _slots(block, _EVENT_TIMESTAMP_12)]
    if not counting:
        return
    dated = [_dated(block) for block in blocks if _slots(block, _EVENT_TIMESTAMP)]
    first = min((int(offsets[0]) for offsets in dated), default=None)
    for block, slot in counting:
        if first is None or block.offsets[0] <= first or not np.all(block.valid(slot)):
            raise NotCovered("stored heart beats without the time they count from")


def _slots(block: Block, num: int) -> list[Slot]:
    return [slot for slot in block.shape.slots if slot.num == num and not slot.developer]


def _dated(block: Block) -> Offsets:
    """The messages of a block that date the ones after them, if each has a timestamp, whole and above 0, first."""
    nums = [slot.num for slot in block.shape.slots]
    time = block.shape.time
    if time is None or nums.index(TIMESTAMP_NUM) > nums.index(_EVENT_TIMESTAMP):
        raise NotCovered("stored heart beats without the time they count from")
    raw, valid = block.number(time)
    if not np.all(valid & (raw > 0) & (raw != _NAMED_TIME)):
        raise NotCovered("stored heart beats without the time they count from")
    return block.offsets
