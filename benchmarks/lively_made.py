"""Figures of pictures made for one fault each; see `tests.support.pictures`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

import printprep as pp
from benchmarks.gamut_pictures import Picture
from tests.support import pictures
from tests.support.gamut_metrics import halos, near_white, order_of_glow

Array = NDArray[np.float32]
Fit = Callable[[Array], Array]
"""Media-relative Lab of a picture to its print, print-referred Lab."""

HUES = (30, 60, 95, 150, 200, 250, 290, 330)
"""Of lamps and ramps, degrees."""

RED = (48.0, 75.0, 45.0)

WANTED = {
    "greys moved by what is around them, L* (99 %)": "0",
    "skins the same": "0.3",
    "type on strong colours the same": "",
    "noise in darks the same": "0",
    "one flat colour, against the colour alone, Lab": "0.1",
    "one colour twice, apart by dE*ab": "",
    "halos at step edges, L*": "1",
    "order of glow, worst lamp, %": "98",
    "order of glow, left alone, worst lamp, %": "",
    "chroma that rises towards neutral, C*": "0",
    "near white darker than left alone, L* (99.9 %): sky": "0.5",
    "the same: sun": "0.5",
    "the same: petals": "0.5",
    "the same: cream": "0.5",
}


def table(sheets: dict[str, pp.Paper]) -> str:
    """The figures on every paper, and what is wanted."""
    columns = {name: figures(paper) for name, paper in sheets.items()}
    lines = [" " * 52 + "".join(f"{name:>14}" for name in columns) + f"{'wanted':>10}"]
    for name, wanted in WANTED.items():
        lines.append(f"{name:52}" + "".join(f"{found[name]:14.2f}" for found in columns.values()) + f"{wanted:>10}")
    return "\n".join(lines)


def figures(paper: pp.Paper) -> dict[str, float]:
    """The figures of gamut-fit alone on a paper, in the order of `WANTED`."""
    pipe = pp.Pipeline([pp.GamutFit()], paper=paper, room=pp.Room())

    def fit(lab: Array) -> Array:
        return _asked(pipe.apply(pictures.romm(lab), "ROMM RGB"), paper)

    def alone(lab: Array) -> Array:  # colours in a list have no surroundings
        codes = pictures.romm(lab)
        return _asked(pipe.apply(codes.reshape(-1, 3), "ROMM RGB").reshape(codes.shape), paper)

    def moved(lab: Array) -> Array:
        return np.asarray(np.abs(fit(lab)[..., 0] - alone(lab)[..., 0]))

    greys, skins = [], []
    for strong in pictures.STRONG:
        lab, areas = pictures.beside(strong)
        apart = moved(lab)
        greys += [np.quantile(apart[areas == k], 0.99) for k in (1, 2, 6, 7)]
        skins += [np.quantile(apart[areas == k], 0.99) for k in (3, 4, 5, 8, 9, 10)]
    types = [pictures.thin_type(strong) for strong in pictures.STRONG]
    one = pictures.flat(RED)
    lab, areas = pictures.twice(RED)
    places = [np.median(fit(lab)[areas == k], axis=0) for k in (1, 2)]
    stripes, parts = pictures.edges()
    lamps = [pictures.glow(hue) for hue in HUES]
    left = [_left(lamp, paper) for lamp, _ in lamps]
    ramps = [fit(pictures.to_neutral(L, hue)) for hue in HUES for L in (35, 55, 75)]
    rises = [np.diff(np.hypot(ramp[..., 1], ramp[..., 2]), axis=1).max() for ramp in ramps]
    whites = [make() for make in pictures.INTO_WHITE.values()]
    values = [
        max(greys), max(skins), max(np.quantile(moved(lab)[areas == 1], 0.99) for lab, areas in types),
        np.quantile(moved(pictures.noisy_darks()), 0.99),
        np.abs(fit(one) - alone(one)).max(), np.linalg.norm(places[0] - places[1]),
        halos(fit(stripes), parts),
        100 * min(order_of_glow(fit(lamp), bands) for lamp, bands in lamps),
        100 * min(order_of_glow(printed, bands) for printed, (_, bands) in zip(left, lamps, strict=True)),
        max(0.0, *rises),
        *(near_white(_to_paper(white, paper), _left(white, paper), fit(white))[0] for white in whites),
    ]  # fmt: skip
    return {name: float(value) for name, value in zip(WANTED, values, strict=True)}


def _asked(codes: NDArray[np.uint16], paper: pp.Paper) -> Array:
    return Picture("", codes, "ROMM RGB").asked(paper)


def _to_paper(lab: Array, paper: pp.Paper) -> Array:
    return _asked(pictures.romm(lab), paper)


def _left(lab: Array, paper: pp.Paper) -> Array:
    return np.asarray(paper.solid.nearest(_to_paper(lab, paper)))
