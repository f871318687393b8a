"""Charts of a report as SVG that takes its colours from the page: tones, and the steps that the eye can tell apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from printprep.check._tone import EDIT_LEVELS, Tones
from printprep.colour.lab import Array

_Curve = tuple[Array, str]
"""Values at each of `EDIT_LEVELS`, and the look of the line: "ready", "alone", "edit", as the page's style has them."""
_Label = tuple[str, tuple[float, float], tuple[float, float]]
"""A text, where it stands, and where on its curve it points."""

_WIDE, _HIGH = 420.0, 350.0
_LEFT, _RIGHT, _TOP, _FOOT = 46.0, 12.0, 10.0, 46.0
"""Size of a chart, and what is left around its field."""

_HILLS = 0.14
"""Share of the field's height that the picture's histogram takes."""


def tone_chart(plain: Tones, ready: Tones, share: Array) -> str:
    """Tone curve: the edit's L* against the print's; hills along the foot are how much of the picture has each."""
    return _svg(
        "Tone curve. Across: lightness in the edit; up: on the print, prepared and left alone.",
        ("L* on the print", 100.0, 20.0),
        share,
        [(EDIT_LEVELS, "edit"), (plain.lightness, "alone"), (ready.lightness, "ready")],
        # in the empty corners, each with a line to where its own curve lies apart
        [
            ("prepared", (20, 67), (30, ready.lightness[120])),
            ("left alone", (6, 50), (13, plain.lightness[52])),
            ("as in the edit", (62, 36), (45, 45)),
        ],
    )


def steps_chart(plain: Tones, ready: Tones, edit: Tones, share: Array) -> str:
    """Visible steps for each L* of the edit: as viewed, and on both prints."""
    alone, prepared, viewed = (_smooth(tones.per_step) for tones in (plain, ready, edit))
    top = max(3.0, float(np.ceil(max(prepared.max(), alone.max(), viewed[80:].max()) + 0.8)))
    apart = int(np.argmax(prepared[8:100] - alone[8:100])) + 8
    low = max(float(alone[250:340].min()) - 0.09 * top, 1.12)
    return _svg(
        "Visible steps for each L* of the edit: in the edit, on the print prepared and left alone.",
        ("visible steps for each L* (JND)", top, 1.0),
        share,
        [(viewed, "edit"), (alone, "alone"), (prepared, "ready")],
        [
            ("the edit, as viewed", (62, 0.93 * top), (52, viewed[208])),
            ("prepared", (4, 0.93 * top), (apart / 4, prepared[apart])),
            ("left alone", (66, low), (apart / 4 + 6, alone[apart + 24])),
        ],
        merged=True,
    )


def _smooth(values: Array) -> Array:
    """Evened over some four samples: files of few codes have steps of their own, which are no property of a print."""
    import cv2

    sigma = 4 if len(values) > 200 else 1
    smooth = cv2.GaussianBlur(values[None], (8 * sigma + 1, 1), sigma, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(smooth, np.float64).ravel()


def _svg(
    said: str, up: tuple[str, float, float], share: Array, curves: Sequence[_Curve], labels: Sequence[_Label], *,
    merged: bool = False,
) -> str:  # fmt: skip
    """A chart over the edit's L*.

    `said` is what is shown, for those who do not see it; `up` what the upright axis counts, where it ends, and how far
    apart its lines are; `share` the picture's histogram, (100,), of which high peaks are cut so that the rest can be
    seen. With `merged` a band marks what lies below 1.
    """
    title, top, every = up

    def x(level: float) -> float:
        return _LEFT + level / 100 * (_WIDE - _LEFT - _RIGHT)

    def y(value: float) -> float:
        return _HIGH - _FOOT - min(value / top, 1.1) * (_HIGH - _FOOT - _TOP)

    def path(levels: Array, values: Array) -> str:
        return " ".join(f"{x(a):.1f},{y(b):.1f}" for a, b in zip(levels, values, strict=True))

    even = _smooth(share)
    hills = np.minimum(even / (min(float(even.max()), 4 * float(even.mean())) or 1.0), 1) * _HILLS * top
    outline = path(np.concatenate([[0], np.arange(100) + 0.5, [100]]), np.concatenate([[0], hills, [0]]))
    parts = [f'<svg viewBox="0 0 {_WIDE:.0f} {_HIGH:.0f}" role="img" aria-label="{said}" class="chart">']
    if merged:
        parts.append(f'<path class="band" d="M{_LEFT} {y(0):.1f}V{y(1):.1f}H{x(100):.1f}V{y(0):.1f}"/>')
    for level in range(0, 101, 20):
        parts.append(f'<path class="grid" d="M{x(level):.1f} {_TOP}V{y(0):.1f}"/>')
        parts.append(f'<text class="middle" x="{x(level):.1f}" y="{y(0) + 18:.1f}">{level}</text>')
    for value in np.arange(0, top + 0.01, every):
        parts.append(f'<path class="grid" d="M{_LEFT} {y(value):.1f}H{x(100):.1f}"/>')
        parts.append(f'<text class="end" x="{_LEFT - 7}" y="{y(value) + 4:.1f}">{value:.0f}</text>')
    parts.append(f'<polygon class="hills" points="{outline}"/>')
    parts.append(f'<text class="middle" x="{x(50):.1f}" y="{_HIGH - 8}">L* in the edit</text>')
    parts.append(f'<text class="middle" transform="translate(14 {y(top / 2):.1f}) rotate(-90)">{title}</text>')
    if merged:
        parts.append(f'<text class="end" x="{x(98):.1f}" y="{y(0.5) + 4:.1f}">below 1: steps of one L* merge</text>')
    parts += [f'<polyline class="{look}" points="{path(EDIT_LEVELS, values)}"/>' for values, look in curves]
    for text, (at, high), (to, value) in labels:
        wide = 6.4 * len(text)  # the line leaves the text at its near side
        start = x(at) + (wide if x(to) > x(at) + wide else min(max(x(to) - x(at), 4), wide))
        below = 5 if value < high else -13
        parts.append(f'<path class="to" d="M{start:.1f} {y(high) + below:.1f}L{x(to):.1f} {y(value):.1f}"/>')
        parts.append(f'<circle r="2.6" cx="{x(to):.1f}" cy="{y(value):.1f}"/>')
        parts.append(f'<text x="{x(at):.1f}" y="{y(high):.1f}">{text}</text>')
    return "\n".join([*parts, "</svg>"])
