"""Charts of a report as SVG that takes its colours from the page: tones, visible steps, colours against the paper."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab
from printprep.check._judge import chroma, hue
from printprep.check._tone import LEVELS, Tones
from printprep.check.simulate import Shown, Simulation
from printprep.colour.icc import device_from_lab
from printprep.colour.profile import Profile

if TYPE_CHECKING:
    from printprep.colour.solid import Solid

# Stand-ins that are replaced by the page's own colours, so that charts follow it into the dark and onto paper.
_INK, _QUIET, _LINE, _FILL, _MARK = "#010203", "#010204", "#010205", "#010206", "#010207"
_ON_PAGE = {_INK: "currentColor", _QUIET: "var(--quiet)", _LINE: "var(--line)", _FILL: "var(--fill)",
            _MARK: "var(--mark)"}  # fmt: skip
_SIZE = (5.0, 4.3)
_CELL = 4.0
"""Lab units a side of the cells that colours are gathered in."""
_THICK = 7.5
"""L* on each side of a slice."""
_NEAR = 12.0
"""Degrees on each side of a cut."""

SLICES = (30.0, 50.0, 70.0)
"""L* of the slices."""


def tone_chart(plain: Tones, ready: Tones, share: NDArray[np.float64]) -> str:
    """Tone curve: the edit's L* against the print's, with visible steps of the room along the right.

    Parameters
    ----------
    plain, ready : Tones
        Left alone and prepared.
    share : (100,) ndarray
        How much of the picture has each L* of the edit: drawn as hills along the foot.
    """
    figure, axes = _axes("L* in the edit", "L* on the print")
    axes.set(xlim=(0, 100), ylim=(0, 100), xticks=range(0, 101, 20), yticks=range(0, 101, 20))
    _hills(axes, share, 14)
    axes.plot([0, 100], [0, 100], color=_QUIET, lw=1, ls=(0, (1, 2)))
    axes.plot(LEVELS, plain.lightness, color=_QUIET, lw=1.6, ls=(0, (4, 2)))
    axes.plot(LEVELS, ready.lightness, color=_INK, lw=2)
    # three labels in the empty corners, each with a line to its own curve where the curves lie apart
    _pointed(axes, "prepared", (20, 67), (30, ready.lightness[120]), _INK)
    _pointed(axes, "left alone", (6, 50), (13, plain.lightness[52]), _QUIET)
    _pointed(axes, "as in the edit", (62, 36), (45, 45), _QUIET)
    steps = axes.secondary_yaxis("right")
    total = ready.count[-1] - ready.count[0]
    each = next(n for n in (5, 10, 20, 25, 50, 100) if total / n <= 9)
    counts = np.arange(0, total + 1e-6, each)
    steps.set_yticks(np.interp(counts, ready.count - ready.count[0], ready.lightness), [f"{c:.0f}" for c in counts])
    steps.set_ylabel("visible steps from black, prepared (JND)", color=_QUIET)
    _plain(steps)
    figure.subplots_adjust(right=0.85)
    return _svg(
        figure, "tone", "Tone curve. Across: lightness in the edit; up: on the print, prepared and left alone."
    )


def steps_chart(plain: Tones, ready: Tones, edit: Tones, share: NDArray[np.float64]) -> str:
    """Visible steps for each L* of the edit."""
    figure, axes = _axes("L* in the edit", "visible steps for each L* (JND)")
    lines = {name: _smooth(t.per_step) for name, t in (("ready", ready), ("plain", plain), ("edit", edit))}
    top = max(3.0, float(np.ceil(max(lines["ready"].max(), lines["plain"].max(), lines["edit"][80:].max()) + 0.8)))
    axes.set(xlim=(0, 100), ylim=(0, top), xticks=range(0, 101, 20))
    axes.axhspan(0, 1, color=_FILL, lw=0)
    _hills(axes, share, 0.14 * top)
    axes.plot(LEVELS, lines["edit"], color=_QUIET, lw=1.2, ls=(0, (1, 2)))
    axes.plot(LEVELS, lines["plain"], color=_QUIET, lw=1.6, ls=(0, (4, 2)))
    axes.plot(LEVELS, lines["ready"], color=_INK, lw=2)
    _label(axes, "below 1: steps of one L* merge", 98, 0.5, _QUIET, "right")
    _pointed(axes, "the edit, as viewed", (64, 0.93 * top), (52, lines["edit"][208]), _QUIET)
    apart = int(np.argmax(lines["ready"][8:100] - lines["plain"][8:100])) + 8
    _pointed(axes, "prepared", (4, 0.93 * top), (apart / 4, lines["ready"][apart]), _INK)
    low = float(lines["plain"][250:340].min()) - 0.09 * top
    _pointed(axes, "left alone", (66, max(low, 1.12)), (apart / 4 + 6, lines["plain"][apart + 24]), _QUIET)
    return _svg(
        figure, "steps", "Visible steps for each L* of the edit: in the edit, on the print prepared and left alone."
    )


def lightness_share(shown: Shown, shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much of the picture lies in each whole L* of the edit; (100,), adds up to 1."""
    return np.asarray(np.histogram(shown.edit[..., 0], np.arange(101), weights=shares)[0], np.float64)


def _hills(axes: Any, share: NDArray[np.float64], top: float) -> None:
    """The picture's own histogram along the foot; high peaks are cut, so that the rest can be seen."""
    even = _smooth(share)
    most = min(float(even.max()), 4 * float(even.mean())) or 1.0
    axes.fill_between(np.arange(100) + 0.5, 0, np.minimum(even / most, 1) * top, color=_LINE, lw=0, zorder=1.5)


def _smooth(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Evened over some four samples: files of few codes have steps of their own, which are no property of a print."""
    import cv2

    sigma = 4 if len(values) > 200 else 1
    smooth = cv2.GaussianBlur(values[None], (8 * sigma + 1, 1), sigma, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(smooth, np.float64).ravel()


def _pointed(axes: Any, text: str, at: tuple[float, float], to: tuple[float, float], colour: str) -> None:
    """A label with a line to the curve that it names, and a dot on it."""
    axes.annotate(
        text, xy=to, xytext=at, color=colour, ha="left", va="center", zorder=6,
        arrowprops={"arrowstyle": "-", "color": colour, "lw": 0.8, "shrinkA": 1, "shrinkB": 0},
    )  # fmt: skip
    axes.plot(*to, marker="o", ms=4, color=colour, zorder=6)


def slice_reach(shown: Shown, shares: NDArray[np.float64], sim: Simulation) -> float:
    """How far the slices' axes must go: 20, 40, ... to hold the paper and all but the rarest colours."""
    order = np.argsort(chroma(shown.toned))
    far = chroma(shown.toned)[order][np.searchsorted(np.cumsum(shares[order]), 0.9995) - 1]
    paper = max(float(sim.on.paper.solid.max_chroma(np.full(360, L), np.arange(360)).max()) for L in SLICES)
    return float(20 * np.ceil((max(float(far), paper) + 4) / 20))


def slice_chart(level: float, shown: Shown, shares: NDArray[np.float64], sim: Simulation, reach: float) -> str:
    """The picture's colours near one lightness against what the paper holds there, in the a*b* plane."""
    figure, axes = _axes("a*", "b*")
    angle = np.radians(np.arange(0, 361, 2))
    most = sim.on.paper.solid.max_chroma(np.full(len(angle), level), np.degrees(angle))
    axes.fill(most * np.cos(angle), most * np.sin(angle), facecolor=_FILL, edgecolor=_INK, lw=1.4)
    axes.axhline(0, color=_LINE, lw=0.8, zorder=0)
    axes.axvline(0, color=_LINE, lw=0.8, zorder=0)
    near = np.abs(shown.toned[:, 0] - level) <= _THICK
    where, weight, _ = _gathered(shown.toned[near], shares[near], (1, 2))
    lab = np.concatenate([np.full((len(where), 1), level), where], axis=1)
    _dots(axes, where, weight, lab)
    axes.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal")
    each = 20 if reach <= 60 else 40
    ticks = [t for t in range(-200, 201, each) if abs(t) <= reach]
    axes.set_xticks(ticks)
    axes.set_yticks(ticks)
    axes.text(0.03, 0.95, f"L* {level:.0f}", color=_INK, va="top", transform=axes.transAxes)
    said = f"Colours of the picture near L* {level:.0f} in the a*b* plane, and the outline of what the paper holds."
    return _svg(figure, f"slice{level:.0f}", said)


def cut_chart(angle: float, shown: Shown, shares: NDArray[np.float64], sim: Simulation) -> str:
    """Lightness against chroma near one hue: what is asked, what the paper holds, where preparation puts it."""
    figure, axes = _axes("C*", "L*")
    level = np.linspace(0, 100, 201)
    for solid, style in ((sim.on.paper.solid, "paper"), (sim.on.source, "source")):
        if solid is not None:
            _outline(axes, solid, level, angle, style)
    near = np.abs((hue(shown.toned) - angle + 180) % 360 - 180) <= _NEAR
    asked, got = (np.stack([chroma(lab), lab[:, 0]], -1) for lab in (shown.toned[near], shown.ready[near]))
    where, weight, (moved,) = _gathered(asked, shares[near], (0, 1), got)
    turn = np.radians(angle)
    lab = np.stack([where[:, 1], where[:, 0] * np.cos(turn), where[:, 0] * np.sin(turn)], -1)
    far = np.linalg.norm(moved - where, axis=1) > 1.5
    for k in np.flatnonzero(far)[np.argsort(-weight[far])[:80]]:
        axes.plot(*zip(where[k], moved[k], strict=True), color=_QUIET, lw=0.9, zorder=3)
    axes.plot(*moved[far].T, ls="", marker="o", ms=2.4, mfc="none", mec=_INK, mew=0.8, zorder=5)
    _dots(axes, where, weight, lab)
    right = max(60.0, float(where[:, 0].max()) + 8 if len(where) else 0, float(_reach(sim, angle)) + 12)
    axes.set(xlim=(0, right), ylim=(0, 100), yticks=range(0, 101, 20))
    said = (
        f"Lightness against chroma near hue angle {angle:.0f} degrees: colours asked, the outline of the paper, "
        "and where preparation puts those outside."
    )
    return _svg(figure, "cut", said)


def _reach(sim: Simulation, angle: float) -> float:
    return float(sim.on.paper.solid.cusp(np.array([angle]))[1][0])


def _outline(axes: Any, solid: Solid, level: NDArray[np.float64], angle: float, style: str) -> None:
    inside = level[(level >= solid.black_L) & (level <= solid.white_L)]
    inside = np.concatenate([[solid.black_L], inside, [solid.white_L]])
    most = solid.max_chroma(inside, np.full(len(inside), angle))
    if style == "paper":
        axes.fill(np.append(most, 0), np.append(inside, solid.black_L), facecolor=_FILL, edgecolor=_INK, lw=1.4)
    else:
        axes.plot(most, inside, color=_QUIET, lw=1, ls=(0, (1, 2)))


def _gathered(
    colours: Lab, shares: NDArray[np.float64], plane: Sequence[int], *more: NDArray[np.floating]
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[NDArray[np.float64]]]:
    """Mean place and share of the colours in each cell of a plane; the means of `more` alongside."""
    flat = np.asarray(colours[:, list(plane)], np.float64)
    if not len(flat):
        return flat, np.empty(0), [np.empty((0, 2)) for _ in more]
    _, cell = np.unique(np.rint(flat / _CELL).astype(int), axis=0, return_inverse=True)
    cell = cell.ravel()
    weight = np.asarray(np.bincount(cell, shares), np.float64)
    kept = weight > 5e-5

    def mean(values: NDArray[np.floating]) -> NDArray[np.float64]:
        sums = np.stack([np.bincount(cell, values[:, k] * shares) for k in range(values.shape[1])], -1)
        return np.asarray(sums[kept] / weight[kept, None])

    return mean(flat), weight[kept], [mean(m) for m in more]


def _dots(axes: Any, where: NDArray[np.float64], weight: NDArray[np.float64], lab: NDArray[np.floating]) -> None:
    """Colours in their own colour, the larger the more of the picture they cover."""
    if not len(where):
        axes.text(0.5, 0.06, "the picture has none here", color=_QUIET, ha="center", transform=axes.transAxes)
        return
    values = np.clip(device_from_lab(lab, Profile.named("sRGB").data), 0, 1)
    size = np.clip(10 + 5000 * weight, 0, 64)
    order = np.argsort(-size)
    axes.scatter(*where[order].T, s=size[order], c=values[order], linewidths=0.4, edgecolors=_LINE, zorder=4)


def _axes(across: str, up: str) -> tuple[Any, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE)
    figure.subplots_adjust(left=0.13, right=0.97, bottom=0.13, top=0.97)
    figure.patch.set_alpha(0)
    axes = figure.add_subplot()
    axes.set_facecolor("none")
    axes.set_xlabel(across, color=_QUIET)
    axes.set_ylabel(up, color=_QUIET)
    axes.grid(color=_LINE, lw=0.6)
    axes.set_axisbelow(True)
    _plain(axes)
    return figure, axes


def _plain(axes: Any) -> None:
    for spine in axes.spines.values():
        spine.set_color(_LINE)
        spine.set_linewidth(0.8)
    axes.tick_params(colors=_QUIET, length=3, width=0.8)


def _label(axes: Any, text: str, x: float, y: float, colour: str, side: str) -> None:
    axes.text(x, y, text, color=colour, ha=side, va="center")


def _svg(figure: Any, name: str, said: str) -> str:
    """The figure as one SVG element for a page: page colours, page typeface, names that no other chart has."""
    import matplotlib as mpl

    out = io.StringIO()
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": name, "font.size": 12, "axes.labelpad": 6}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{name}-", text)
    text = re.sub(r"font: (?:\w+ )*([\d.]+)px [^;\"]*", r"font-size: \1px", text)
    for stand_in, colour in _ON_PAGE.items():
        text = text.replace(stand_in, colour)
    text = re.sub(
        r'<svg [^>]*?viewBox="([^"]*)"[^>]*>', rf'<svg viewBox="\1" role="img" aria-label="{said}">', text, count=1
    )
    return text.strip()
