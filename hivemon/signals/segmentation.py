"""The change-point engine: where a series changes its level, by ruptures' exact penalised search.

The one place that touches ruptures. Gates before it keep quiet data away; here only what they let through is cut.
"""

from __future__ import annotations

import importlib
import sys
from contextlib import contextmanager
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import numpy as np
    from numpy.typing import NDArray

_UNUSED = {
    "scipy.stats.mstats": ("rankdata",),
    "scipy.signal": ("argrelmax",),
    "scipy.spatial.distance": ("pdist", "squareform", "cdist"),
}
"""What ruptures takes from scipy for searches and costs that are not used here."""


@contextmanager
def _late() -> Iterator[None]:
    """Let scipy's big parts be imported when they are called, not when ruptures is imported: half a start-up's time."""
    stood_in = [name for name in _UNUSED if name not in sys.modules]
    for name in stood_in:
        stand_in = ModuleType(name)
        vars(stand_in).update({function: _caller(name, function) for function in _UNUSED[name]})
        sys.modules[name] = stand_in
    try:
        yield
    finally:
        for name in stood_in:
            del sys.modules[name]


def _caller(module: str, function: str) -> Callable[..., Any]:
    def call(*given: Any, **named: Any) -> Any:
        return getattr(importlib.import_module(module), function)(*given, **named)

    return call


with _late():
    import ruptures


def breakpoints(values: NDArray[np.float64], penalty: float) -> list[int]:
    """Return where levels end in a series of unit noise: indices, the last of them its length.

    Kernel change-point search with the linear kernel minimises the same within-level squares plus `penalty` a level as
    an exact search (Killick, Fearnhead & Eckley 2012 for the penalised form). A level may be of one value.
    """
    search = ruptures.KernelCPD(kernel="linear", min_size=1).fit(values.reshape(-1, 1))
    return [int(found) for found in search.predict(pen=penalty)]
