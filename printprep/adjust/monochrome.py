"""Turn colour into black and white, by weights or by hue."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Stage
from printprep.colour.hue import visible_oklab
from printprep.colour.lab import Lab, lightness_from_luminance, polar, xyz_from_lab
from printprep.conditions.conditions import Conditions
from printprep.errors import ParameterError

_OPRGB_FROM_XYZ = np.array(
    [
        [1.96252, -0.61066, -0.34138],
        [-0.97875, 1.91615, 0.03342],
        [0.02871, -0.14071, 1.34927],
    ]
)
"""Linear opRGB (IEC 61966-2-5) of XYZ under D50, adapted by Bradford."""

_HUES = (29.2, 109.8, 142.5, 194.8, 264.1, 328.4)
"""Oklab hue, in degrees, of the primaries and secondaries of sRGB: red, yellow, green, cyan, blue, magenta (Ottosson
2020)."""

_STRONG = 10.0
"""Oklab chroma, times 100, at which a colour gets 63 % of what its hue asks for."""

_LEAST = 0.05
"""What weights must come to together."""

Weight = Annotated[float, Meta(ge=-1, le=2)]
Shift = Annotated[float, Meta(ge=-1.5, le=1.5)]


@dataclass(frozen=True)
class Monochrome(Adjustment):
    """Black and white: each colour becomes a grey.

    Parameters
    ----------
    red, green, blue : float, -1 to 2, optional
        What share of its light each channel of linear opRGB gives, as a filter before the lens does. They are
        brought to a sum of 1; one that is not given is 0. None given: a colour becomes the grey that is as light.
    reds, yellows, greens, cyans, blues, magentas : float, -1.5 to 1.5
        How much lighter (more than 0) or darker strong colours of this hue become: 1 takes a middle tone from half way
        between paper black and white to seven tenths of the way.

    Raises
    ------
    ParameterError
        If a value is not a finite number in its range, or the weights come to nothing or less.

    Notes
    -----
    Greys stay as they are, whatever the weights. By hue, the share ``t`` of the way from paper black to white becomes
    ``t ^ (2 ^ (-s k))``, where ``k`` runs smoothly from hue to hue and ``s = 1 - exp(-C / 0.1)`` with the chroma in
    Oklab: no colour passes white or black, and of two colours of one hue and strength the lighter stays lighter. The
    form is ours; no source.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> pipe = pp.pipeline(paper="gloss") + pp.Monochrome(blues=-0.5)
    >>> grey = pipe.apply(np.float32([[0.3, 0.4, 0.6]]), "opRGB")
    >>> bool(np.ptp(grey) < 0.01)
    True
    """

    stage: ClassVar[Stage] = Stage.COLOUR
    red: Weight | None = None
    green: Weight | None = None
    blue: Weight | None = None
    reds: Shift = 0.0
    yellows: Shift = 0.0
    greens: Shift = 0.0
    cyans: Shift = 0.0
    blues: Shift = 0.0
    magentas: Shift = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        given = [w for w in (self.red, self.green, self.blue) if w is not None]
        if given and sum(given) < _LEAST:
            what = f"come to {sum(given):g} together, must come to {_LEAST:g} or more"
            raise ParameterError("red, green, blue", tuple(given), what)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Turn grey; see `Adjustment`."""
        L = lab[..., 0].astype(np.float64)
        low, high = np.minimum(L, on.black), np.maximum(L, 100.0)
        light = L
        given = np.array([w or 0.0 for w in (self.red, self.green, self.blue)])
        if given.any():
            channels = xyz_from_lab(lab.astype(np.float64)) @ _NEUTRAL.T
            grey = (lab[..., 1:] == 0).all(axis=-1)  # to the last digit
            light = np.where(grey, L, lightness_from_luminance(np.maximum(channels @ (given / given.sum()), 0)))
            light = np.clip(light, low, high)
        by_hue = self.reds, self.yellows, self.greens, self.cyans, self.blues, self.magentas
        if any(by_hue):
            oklab = visible_oklab(lab.astype(np.float64))
            chroma, hue = polar(oklab)
            shift = (1 - np.exp(-chroma / _STRONG)) * _around(by_hue, np.degrees(hue))
            t = np.clip((light - on.black) / (100 - on.black), 0, 1)
            change = np.power(t, np.exp2(-shift)) - t
            light = np.clip(light + change * (100 - on.black), low, high)
        out = np.zeros_like(lab)
        out[..., 0] = light
        return out


_NEUTRAL = _OPRGB_FROM_XYZ / (_OPRGB_FROM_XYZ @ xyz_from_lab(np.array([100.0, 0.0, 0.0])))[:, None]


def _around(values: tuple[float, ...], hue: NDArray[np.floating]) -> NDArray[np.floating]:
    """What lies between values at `_HUES`, eased from one to the next, at hues in degrees."""
    at = np.array([_HUES[-1] - 360, *_HUES, _HUES[0] + 360])
    known = np.array([values[-1], *values, values[0]])
    turned = (hue - at[0]) % 360 + at[0]
    k = np.clip(np.searchsorted(at, turned, side="right") - 1, 0, len(at) - 2)
    u = (turned - at[k]) / (at[k + 1] - at[k])
    u = u * u * (3 - 2 * u)
    return np.asarray(known[k] * (1 - u) + known[k + 1] * u)
