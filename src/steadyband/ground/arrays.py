"""Array types of stored results. At run time they are numpy's plain array class, whatever numpy makes of its typing aliases."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray: TypeAlias = NDArray[np.float64]
    BoolArray: TypeAlias = NDArray[np.bool_]
    Numbers: TypeAlias = NDArray[np.int32]
    Codes: TypeAlias = NDArray[np.uint8]
    SmallArray: TypeAlias = NDArray[np.float32]
else:
    FloatArray = BoolArray = Numbers = Codes = SmallArray = np.ndarray
