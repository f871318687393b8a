"""Tone shadows and highlights, each its own way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar

import numpy as np
from msgspec import Meta

from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import Lab, lab_from_lch
from printprep.conditions.conditions import Conditions

_MEET = (0.25, 0.75)
"""Share of the way from paper black to white up to which tones are all shadows, and from which all highlights."""

Hue = Annotated[float, Meta(ge=0, le=360, description="degrees")]
Chroma = Annotated[float, Meta(ge=0, le=30, description="C*")]


@dataclass(frozen=True)
class Toning(Adjustment):
    """Give greys a colour, in CIELAB; paper white and black stay as they are.

    Parameters
    ----------
    shadows, highlights : float, C*, 0 to 30
        How strong the tone is at its strongest.
    shadows_hue, highlights_hue : float, degrees, 0 to 360
        Which hue: 0 red, 60 brown to sepia, 90 yellow, 180 green, 270 blue.

    Raises
    ------
    ParameterError
        If a value is not a finite number in its range.

    Notes
    -----
    At the share ``t`` of the way from paper black to white, ``(1 - (2 t - 1)^4)`` of the tone is added to a* and b*:
    the shadows' up to 0.25, the highlights' from 0.75, and in between one passes smoothly into the other. Greys get
    no more chroma than the paper holds at their lightness. The form is ours; no source.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
    >>> print(pp.Toning(shadows=6, highlights=6)(np.float32([[50, 0, 0]]), on).round())
    [[50.  2.  6.]]
    """

    stage: ClassVar[Stage] = Stage.TINT
    shadows: Chroma = 0.0
    shadows_hue: Hue = 60.0
    highlights: Chroma = 0.0
    highlights_hue: Hue = 80.0

    def idle(self, on: Conditions) -> bool:
        """Whether no tone is asked for."""
        return max(self.shadows, self.highlights) < 0.02

    def scaled(self, amount: float) -> Toning:
        """The same step with both tones weaker or stronger."""
        changed: Any = {name: min(getattr(self, name) * amount, 30.0) for name in ("shadows", "highlights")}
        return replace(self, **changed)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Tone; see `Adjustment`."""
        out = lab.copy()
        if self.idle(on):
            return out
        L = lab[..., 0].astype(np.float64)
        t = np.clip((L - on.black) / (100 - on.black), 0, 1)
        low, high = _MEET
        u = np.clip((t - low) / (high - low), 0, 1)
        u = u * u * (3 - 2 * u)
        within = 1 - (2 * t - 1) ** 4
        tones = (0, self.shadows, self.shadows_hue), (0, self.highlights, self.highlights_hue)
        dark, light = lab_from_lch(np.array(tones))[:, 1:]
        tone = within[..., None] * ((1 - u)[..., None] * dark + u[..., None] * light)
        chroma = np.hypot(tone[..., 0], tone[..., 1])
        most = on.gamut.max_chroma(L, np.degrees(np.arctan2(tone[..., 1], tone[..., 0])))
        tone *= (np.minimum(chroma, most) / np.maximum(chroma, 1e-9))[..., None]
        out[..., 1:] += tone.astype(np.float32)
        return out
