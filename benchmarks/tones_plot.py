"""Draw the tone curves, and the steps that the eye can see: ``python -m benchmarks.tones_plot FILE.png``."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from benchmarks.tones import bare, prepared
from printprep.adjust.room_brightness import RoomBrightness
from printprep.adjust.shadow_lift import ShadowLift
from printprep.colour.lab import luminance_from_lightness
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.room import Glazing, Room
from printprep.conditions.viewing import luminance
from printprep.preset import load

PRINTS: tuple[tuple[str, str, Glazing], ...] = (
    ("Gloss", "gloss", "none"),
    ("Cotton rag, matte", "cotton-rag", "none"),
    ("Gloss behind glass", "gloss", "clear"),
)
LIGHTS = {500: "#2b3a55", 200: "#4c7a8c", 50: "#c9803a", 20: "#a63d2f"}


def draw(file: Path) -> None:
    """Three prints side by side: what is added to L*, and visible steps at 50 lx."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    plt.rcParams.update({"font.size": 10, "axes.spines.top": False, "axes.spines.right": False})
    figure, axes = plt.subplots(2, 3, figsize=(12, 7), sharex=True, sharey="row", layout="constrained")
    edit = np.linspace(0, 100, 401)
    middle = (edit[1:] + edit[:-1]) / 2
    for (title, name, glazing), top, bottom in zip(PRINTS, axes[0], axes[1], strict=True):
        paper = load(name, "paper").paper
        assert paper is not None
        before = bare(edit, paper)
        for lux, colour in LIGHTS.items():
            on = Conditions(paper, Room(illuminance_lux=lux, glazing=glazing))
            after = prepared(on, ShadowLift(), RoomBrightness())(before)
            top.plot(edit, after - before, color=colour, lw=2, label=f"hung at {lux} lx")
        on = Conditions(paper, Room(illuminance_lux=50, glazing=glazing))
        after = prepared(on, ShadowLift(), RoomBrightness())(before)
        white = 500 / np.pi * paper.white_reflectance
        original = jnd_index((luminance_from_lightness(edit) * 0.995 + 0.005) * white)
        bottom.plot(middle, np.diff(original) / np.diff(edit), color="#999999", lw=1.2, label="the edit, at 500 lx")
        for tones, dash, label in ((before, (4, 2), "print, compensation alone"), (after, (1, 0), "print, prepared")):
            steps = np.diff(jnd_index(luminance(tones, paper, on.room))) / np.diff(edit)
            bottom.plot(middle, steps, color=LIGHTS[50], lw=2, dashes=dash, label=label)
        bottom.axhline(1, color="black", lw=0.6)
        top.set_title(f"{title}, black L* {paper.neutral_black:.0f}", fontsize=11, loc="left")
        bottom.set_xlabel("L* in the edit")
        bottom.set_ylim(0, 7)
    axes[0, 0].set_ylabel("added to L* on the print")
    axes[1, 0].set_ylabel("visible steps for one L*, at 50 lx")
    axes[1, 2].annotate("one visible step", (99, 1.08), ha="right", fontsize=9)
    axes[0, 0].legend(frameon=False, loc="upper right")
    axes[1, 0].legend(frameon=False, loc="upper right")
    figure.savefig(file, dpi=110)
    plt.close(figure)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("say where: python -m benchmarks.tones_plot FILE.png")
    draw(Path(sys.argv[1]))
