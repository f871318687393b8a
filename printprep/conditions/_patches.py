"""Patches of a chart put in order: device values on one scale, repeats averaged, what is missing refused."""

from __future__ import annotations

from typing import Literal

import numpy as np

from printprep.colour.lab import Array
from printprep.conditions._cgats import refusal

Channels = Literal["CMYK", "CMY", "RGB", "GRAY"]
"""Device models of a chart."""

CONTRADICTION = 6.0
"""Repeats of one patch further apart than this, dE*ab, cannot both be right; nearer, they are averaged (our choice)."""


def scaled(device: Array, lab: Array, channels: Channels, fields: tuple[str, ...], name: str) -> Array:
    """Device values on 0..1, from 0..1, per cent, or (of light) 8-bit codes; grey counted as light.

    Values below 0 or over the scale are an InputError that names the field.
    """
    if device.min() < 0:
        k = int(np.argwhere(device < 0)[0][1])
        raise refusal(name, f"{fields[k]} is {device[:, k].min():g}, below 0", "correct or delete the row")
    most = float(device.max())
    ink = channels in ("CMYK", "CMY")
    scales = (1.0, 100.0) if ink else (1.0, 100.0, 255.0)
    scale = next((s for s in scales if most <= s * (1 + 1e-6)), None)
    if scale is None:
        k = int(np.argwhere(device == most)[0][1])
        raise refusal(name, f"{fields[k]} is {most:g}, over {'100 %' if ink else '255'}", "correct or delete the row")
    device = np.minimum(device / scale, 1)
    if channels == "GRAY" and np.sum((device[:, 0] - device.mean()) * (lab[:, 0] - lab[:, 0].mean())) < 0:
        device = 1 - device  # it was counted as ink
    return device


def merged(device: Array, lab: Array, channels: Channels, name: str) -> tuple[Array, Array]:
    """Repeats averaged, in the order of the device values, so that the order of a file does not matter.

    Repeats that contradict each other are an InputError.
    """
    device, which = np.unique(np.round(np.asarray(device, np.float64), 6), axis=0, return_inverse=True)
    which = which.reshape(-1)
    count = np.bincount(which)
    mean = np.stack([np.bincount(which, lab[:, k]) / count for k in range(3)], axis=1)
    apart = np.linalg.norm(lab - mean[which], axis=1)
    if apart.max() > CONTRADICTION / 2:
        worst = patch_named(channels, device[which[apart.argmax()]])
        what = f"{worst} occurs more than once with LAB_L, LAB_A, LAB_B {2 * apart.max():.0f} dE apart"
        raise refusal(name, what, "keep the right one")
    return device, mean


def patch_named(channels: str, device: Array | tuple[float, ...]) -> str:
    """A patch by its device values, in per cent."""
    return f"{channels} " + " ".join(f"{100 * v:g}" for v in device)


def bare(channels: Channels) -> tuple[float, ...]:
    """Device values of unprinted paper."""
    return {"CMYK": (0.0,) * 4, "CMY": (0.0,) * 3, "RGB": (1.0,) * 3, "GRAY": (1.0,)}[channels]


def check(device: Array, lab: Array, channels: Channels, name: str) -> None:
    """Refuse charts without white, a solid or an overprint, or where white is not the lightest or all is alike."""
    patches = {tuple(row) for row in device}
    white = bare(channels)
    shown = patch_named(channels, white)
    if white not in patches:
        raise refusal(name, f"no white, the patch {shown} is missing", "measure the bare paper")
    for needed in _corners(channels):
        if needed not in patches:
            what = f"the patch {patch_named(channels, needed)} is missing, and the gamut's corners are needed"
            raise refusal(name, what, "measure it")
    light = float(lab[(device == white).all(axis=1)][0, 0])
    if light < lab[:, 0].max() - 3 or light < 40:
        raise refusal(name, f"LAB_L of {shown} is {light:.1f}, not the lightest", "check the device columns")
    if light - lab[:, 0].min() < 5:
        raise refusal(name, "LAB_L hardly differs between patches", "give a chart with solids and black")


def _corners(channels: Channels) -> list[tuple[float, ...]]:
    if channels == "GRAY":
        return [(0.0,)]
    if channels == "RGB":
        return [tuple(float(c) for c in f"{k:03b}") for k in range(8)]
    rest = (0.0,) * (len(channels) - 3)
    return [tuple(float(c) for c in bits) + rest for bits in ("100", "010", "001", "011", "101", "110")]
