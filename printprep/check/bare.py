"""How much of a print is bare paper, and whether its edge can be told from the margin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_BARE = 65535 * 0.997
"""Codes from which no ink is laid that can be seen: less than half of an L*."""

_AREA, _EDGE = 0.02, 0.1
"""Shares of the picture, and of its edge, from which it is worth saying."""


def bare_paper(
    after: NDArray[np.uint16], *, keyline: bool, margins: bool, ways: tuple[str, str] = ("keyline=True", "")
) -> str:
    """What is to be said of bare paper in a sample of the prepared picture; empty where it is little.

    `keyline` is whether a line is drawn round it already, `margins` whether white lies around it; `ways` how a keyline
    is asked for, and what stands before a step's parameter that is set.
    """
    if min(after.shape[:2]) < 3:
        return ""
    bare: NDArray[np.bool_] = np.asarray((after >= _BARE).all(axis=-1))
    edge = np.concatenate([bare[0], bare[-1], bare[:, 0], bare[:, -1]]).mean()
    said, do = [], []
    if bare.mean() >= _AREA:
        said.append(f"{100 * bare.mean():.0f} % of the picture is bare paper")
        do.append(f"{ways[1]}highlight-hold.last_light=97 keeps the tones next to it apart")
    if margins and not keyline and edge >= _EDGE:
        said.append(f"{100 * edge:.0f} % of its edge cannot be told from the margin" if not said else
                    f"as is {100 * edge:.0f} % of its edge")
        do.insert(0, f"{ways[0]} draws a line round it")
    return f"{', '.join(said)}; {', or '.join(do)}" if said else ""
