"""The same mathematics written plainly over the whole picture, with colour-science, scikit-image and SciPy."""

from __future__ import annotations

import os

import numpy as np
from numpy.typing import NDArray

from benchmarks._measure import Bench, Line, best, here
from benchmarks.peers import _ours
from benchmarks.picture import photo
from printprep.adjust import _tone
from printprep.adjust.gamut_fit import GamutFit
from printprep.colour.lab import luminance_from_lightness
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.render.plan import Plan

Array = NDArray[np.float64]


def lines(bench: Bench) -> list[Line]:
    """A part of the picture for the plain way, the whole for ours; how far apart the results are."""
    from skimage.color import deltaE_ciede2000, rgb2lab

    off = {"gamut-fit.glow": 0, "room-colour.strength": 0}
    plan = pipeline(paper="cotton-rag", room="hallway", settings=off).plan(Profile.named("sRGB"))
    codes = photo(*((1000, 1500) if bench.quick else (4000, 6000)))
    part = np.ascontiguousarray(codes[:: 2 if bench.quick else 8, :: 2 if bench.quick else 8])
    engine, cores = plan.engine, len(os.sched_getaffinity(0))
    engine.prepare()
    plain = part.copy()
    slow = best([here(lambda: np.copyto(plain, prepared(part, plan))) for _ in range(2)]).wall / part.size
    fast = best([here(lambda: _ours(engine, codes.copy(), cores)) for _ in range(bench.runs)]).wall / codes.size
    engine.apply(fitted := part.copy())
    apart = deltaE_ciede2000(*(rgb2lab(c / 65535.0) for c in (plain, fitted)))
    ratio = slow / fast
    note = f"results differ by {apart.mean():.2f} dE00 on average, {np.quantile(apart, 0.99):.2f} in 99 %"
    speeds = f"{1e-6 / fast / 3:.0f} MP/s", f"{1e-6 / slow / 3:.2f} MP/s"
    return [Line("the same mathematics, written plainly", *speeds, ratio, "at least 50", ratio >= 50, note)]


def prepared(codes: NDArray[np.uint16], plan: Plan) -> NDArray[np.uint16]:
    """Prepare an sRGB picture for the plan's paper and room; every line over every pixel."""
    import colour

    white, space = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"], "sRGB"
    black = luminance_from_lightness(plan.on.black)
    light = colour.xy_to_XYZ(white)
    xyz = colour.RGB_to_XYZ(codes / 65535.0, space, white, "Bradford", apply_cctf_decoding=True)
    lab = colour.XYZ_to_Lab(black * light + (1 - black) * xyz, white)
    view = _tone.View.of(plan.on)
    for step in plan.steps:
        if isinstance(step, GamutFit):
            lab = step(lab.astype(np.float32), plan.on).astype(np.float64)
        else:
            lift = type(step).__name__ == "ShadowLift"
            strength: float = getattr(step, "strength", 0.0)
            curve = _tone.lift(view, strength) if lift else _tone.room(view, strength)
            L = lab[..., 0]
            t = np.clip((np.hypot(lab[..., 1], lab[..., 2]) / (L + 16) - 0.6) / 0.8, 0, 1)
            change = np.interp(L, view.lightness(), curve.added) * (1 - 0.6 * t * t * (3 - 2 * t))
            lab = np.stack([L + change, *(lab[..., k] * (1 + change / (L + 16)) for k in (1, 2))], axis=-1)
    xyz = (colour.Lab_to_XYZ(lab, white) - black * light) / (1 - black)
    rgb = colour.XYZ_to_RGB(xyz, space, white, "Bradford", apply_cctf_encoding=True)
    return np.asarray(np.rint(np.clip(rgb, 0, 1) * 65535), np.uint16)


