"""What simulated viewers see of a print's tones, prepared and not: ``python -m benchmarks.tones``.

Edits are compared with black point compensation alone, on every shipped paper (plain-uncoated is FOGRA29L,
coated-proof FOGRA39L) under six lights. Two viewers count visible steps: one whose eye adapts to each tone
(DICOM PS3.14), one whose eye stays adapted to a fifth of paper white (Barten). Goals stand beside the figures.
``python -m benchmarks.tones sweep`` shows which strength of room-brightness the viewers would choose.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from benchmarks import tones_goals
from printprep import preset_files as presets
from printprep.adjust._base import Adjustment
from printprep.adjust.highlight_hold import HighlightHold
from printprep.adjust.room_brightness import RoomBrightness
from printprep.adjust.room_colour import RoomColour
from printprep.adjust.shadow_lift import ShadowLift
from printprep.colour.appearance import colourfulness
from printprep.colour.blackpoint import compensate
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import D50, lab_from_xyz, xyz_from_lab
from printprep.colour.profile import Profile
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Glazing, Room, Surround
from printprep.conditions.viewing import luminance, white_luminance
from printprep.pipe import Pipeline
from printprep.preset import load
from tests.support.eye import jnd_count_fixed

LUX = (2000, 500, 200, 100, 50, 20)
Array = NDArray[np.float64]
Tone = Callable[[Array], Array]


@dataclass(frozen=True)
class Seen:
    """What one viewer sees of the edit's grey wedge, L* 0, 1 .. 100."""

    steps: int  # of the 20 from L* 0 to 20, those of one JND or more
    dark: float  # JND between L* 0 and 20
    all_steps: int  # of all 100


def bare(edit: Array, paper: Paper) -> Array:
    """Print-referred L* of the edit's: black point compensation (ISO 18619), and nothing else."""
    lab = np.stack([edit, 0 * edit, 0 * edit], axis=-1)
    return np.asarray(compensate(lab, 0, paper.neutral_black)[..., 0], np.float64)


def prepared(on: Conditions, *steps: Adjustment) -> Tone:
    """L* on the print from print-referred L*, by the steps given."""

    def tone(L: Array) -> Array:
        lab = np.stack([L, 0 * L, 0 * L], axis=-1)
        for step in steps:
            lab = step(lab, on)  # type: ignore[arg-type, assignment, unused-ignore]
        return np.asarray(lab[..., 0], np.float64)

    return tone


def see(L: Array, on: Conditions) -> list[Seen]:
    """Both viewers' counts for the print's L* of the edit's L* 0, 1 .. 100."""
    light = luminance(L, on.paper, on.room)
    out = []
    for count in (jnd_index, partial(jnd_count_fixed, adapted_to=0.2 * white_luminance(on.paper, on.room))):
        step = np.diff(count(light))
        out.append(Seen(int((step[:20] >= 1).sum()), float(step[:20].sum()), int((step >= 1).sum())))
    return out


def brightness(L: Array, on: Conditions) -> float:
    """Range of CIECAM16's brightness Q between the edit's L* 0 and 20."""
    Y = luminance(L[[0, 20]], on.paper, on.room) / white_luminance(on.paper, on.room)
    return float(np.diff(brightness_of(Y, white_luminance(on.paper, on.room), on.room.surround))[0])


def brightness_of(Y: Array, white: float, surround: Surround = "average") -> Array:
    """Q of greys, by colour-science's CIECAM16; white's luminance in cd/m2."""
    from colour.appearance import VIEWING_CONDITIONS_CIECAM16, XYZ_to_CIECAM16

    light = 100 * np.array(D50)
    seen = XYZ_to_CIECAM16(Y[:, None] * light, light, 0.2 * white, 20, VIEWING_CONDITIONS_CIECAM16[surround.title()])
    return np.asarray(seen.Q, np.float64)


def slopes(on: Conditions, tone: Tone) -> tuple[float, float]:
    """Slope against compensation alone: the mean over the edit's L* 40..60, the least over 5..95."""
    before, ends = bare(np.linspace(5, 95, 361), on.paper), bare(np.array([40.0, 60.0]), on.paper)
    return float((np.diff(tone(ends)) / np.diff(ends))[0]), float((np.diff(tone(before)) / np.diff(before)).min())


def table(name: str, paper: Paper, glazing: Glazing = "none") -> None:
    """One paper under all lights; two figures with > are before and after."""
    print(f"\n{name}, black L* {paper.neutral_black:.1f}" + (f", behind {glazing} glass" if glazing != "none" else ""))
    print("       eye adapted to each tone            eye adapted to the room             Q        L* added    slope")
    viewer = "steps    JND 0-20          0-100"
    print(f"  lux  {viewer}    {viewer}    0-20    20   50   80  40-60 least")
    for lux in LUX:
        on = Conditions(paper, Room(illuminance_lux=lux, glazing=glazing))
        tone = prepared(on, ShadowLift(), RoomBrightness())
        before = bare(np.arange(101.0), paper)
        after = tone(before)
        line = f"{lux:5d}"
        for a, b in zip(see(before, on), see(after, on), strict=True):
            line += f"  {a.steps:2d} > {b.steps:2d} {a.dark:6.1f} > {b.dark:5.1f} x{b.dark / a.dark:4.2f}"
            line += f"  {a.all_steps:3d} > {b.all_steps:3d}"
        middle, least = slopes(on, tone)
        line += f"   x{brightness(after, on) / brightness(before, on):4.2f}"
        line += "".join(f"{after[i] - before[i]:5.1f}" for i in (20, 50, 80)) + f"  {middle:5.2f} {least:5.2f}"
        print(line)


def others(paper: Paper) -> None:
    """Each step on its own, on one matte paper at 50 lx."""
    on = Conditions(paper, Room(illuminance_lux=50))
    before = bare(np.arange(101.0), paper)
    print(f"\nmatte, black L* {paper.neutral_black:.1f}, at 50 lx")
    print("                              steps  JND 0-20  slope 40-60  least")
    rows: list[tuple[str, Tone]] = [
        ("compensation alone", lambda L: L),
        ("shadow-lift", prepared(on, ShadowLift())),
        ("room-brightness", prepared(on, RoomBrightness())),
        ("both", prepared(on, ShadowLift(), RoomBrightness())),
        ("both, the room in full", prepared(on, ShadowLift(), RoomBrightness(strength=1))),
    ]
    for name, tone in rows:
        seen = see(tone(before), on)[0]
        print(f"{name:28s} {seen.steps:5d} {seen.dark:8.1f}  {slopes(on, tone)[0]:10.2f} {slopes(on, tone)[1]:7.2f}")


def highlights(paper: Paper) -> None:
    """The least visible step for one L*, from L* 90 to white."""
    print("\nhighlights: fewest JND for one L* between 90 and 100, gloss, prepared")
    for glazing in ("none", "clear"):
        cells = []
        for lux in LUX:
            on = Conditions(paper, Room(illuminance_lux=lux, glazing=glazing))
            after = prepared(on, ShadowLift(), RoomBrightness())(np.linspace(90, 100, 11))
            cells.append(f"{lux} lx {np.diff(jnd_index(luminance(after, paper, on.room))).min():.1f}")
        print(f"  glass {glazing:6s} " + "   ".join(cells))


def smoothness(papers: dict[str, Paper]) -> None:
    """A 16-bit grey ramp through compiled tables."""
    print("\n16-bit grey ramp (sRGB) through compiled tables")
    codes = np.arange(65536, dtype=np.uint16)
    ramp = np.repeat(codes[:, None], 3, axis=1)
    for name in ("gloss", "cotton-rag", "plain-uncoated"):
        for lux, glazing in ((500, "none"), (50, "none"), (50, "clear")):
            room = Room(illuminance_lux=lux, glazing=glazing)  # type: ignore[arg-type, unused-ignore]
            pipe = Pipeline([ShadowLift(), RoomBrightness()], paper=papers[name], room=room)
            out = pipe.apply(ramp, profile="sRGB").astype(np.int64)
            apart = int(np.abs(out - out[:, 1:2]).max())
            reverse = int(-min(0, np.diff(out[:, 1]).min()))
            lab = lab_from_device(out[::64] / 65535, Profile.named("sRGB").data)
            second = np.abs(np.diff(lab[:, 0], 2)).max()
            tint = np.abs(lab[:, 1:]).max()
            print(
                f"  {name:15s} {lux:4d} lx {glazing:6s} reversals of {reverse} codes, channels apart {apart} codes, "
                f"a*, b* within {tint:.3f}, second difference of L* at 1024 levels {second:.3f}"
            )


def pictures(papers: dict[str, Paper]) -> None:
    """Mean CIEDE2000 from compensation alone, on mid-tone photographs of scikit-image."""
    import colour
    import skimage

    print("\nmean CIEDE2000 from compensation alone, lift and room")
    for title, picture in (("cat", skimage.data.chelsea()), ("cup", skimage.data.coffee())):
        rgb = colour.models.eotf_sRGB(picture[::4, ::4].reshape(-1, 3) / 255)
        xyz = colour.RGB_to_XYZ(rgb, "sRGB", colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
        for name in ("gloss", "cotton-rag"):
            paper = papers[name]
            lab = np.asarray(compensate(lab_from_xyz(xyz), 0, paper.neutral_black), np.float32)
            cells = []
            for lux in (500, 50):
                on = Conditions(paper, Room(illuminance_lux=lux))
                after = RoomBrightness()(ShadowLift()(lab, on), on)
                cells.append(f"{lux} lx {colour.difference.delta_E_CIE2000(lab, after).mean():.2f}")
            print(f"  {title} on {name:11s} {'   '.join(cells)}")


def colours(paper: Paper) -> None:
    """Colourfulness M against the reference viewing, before and after, for twelve hues."""
    print("\ncolourfulness M (CIECAM16) against 500 lx, L* 50, a third of the gamut's chroma, twelve hues")
    hue = np.arange(0, 360, 30.0)
    chroma = paper.solid.max_chroma(np.full(12, 50.0), hue) / 3
    lab = np.stack([np.full(12, 50.0), chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))], -1)
    lab = lab.astype(np.float32)
    reference = 500 * paper.white_reflectance / np.pi
    wanted = colourfulness(xyz_from_lab(lab), 0.2 * reference)
    for lux in LUX[2:]:
        on = Conditions(paper, Room(illuminance_lux=lux))
        chains: dict[str, tuple[Adjustment, ...]] = {
            "alone": (),
            "room-brightness": (RoomBrightness(),),
            "room-brightness, room-colour": (RoomBrightness(), RoomColour()),
        }
        adapted, cells = 0.2 * white_luminance(paper, on.room), []
        for name, steps in chains.items():
            out = lab
            for step in steps:
                out = step(out, on)
            cells.append(f"{name} {np.mean(colourfulness(xyz_from_lab(out), adapted) / wanted):.2f}")
        print(f"  {lux:4d} lx: " + "   ".join(cells))


def speed(paper: Paper) -> None:
    """Processor time of each step on the nodes of a table."""
    lab = np.random.default_rng(0).uniform((15, -60, -60), (100, 60, 60), (65**3, 3)).astype(np.float32)
    on = Conditions(paper, Room(illuminance_lux=50))
    print(f"\nmilliseconds for {len(lab)} colours")
    for step in (ShadowLift(), RoomBrightness(), RoomColour(), HighlightHold(last_light=97)):
        spent = []
        for _ in range(4):
            start = time.process_time()
            step(lab, on)
            spent.append(time.process_time() - start)
        print(f"  {type(step).__name__:15s} first {1000 * spent[0]:5.1f}  then {1000 * min(spent[1:]):5.1f}")


def sweep(papers: dict[str, Paper]) -> None:
    """How far prints stay from what was seen in the reference light, by strength of the room.

    Root mean square over the edit's scale: shares of the range of visible steps for both viewers and of
    CIECAM16's Q; and Q itself. The least of each column is that measure's choice.
    """
    edit = np.linspace(0, 100, 101)
    for name in ("gloss", "cotton-rag", "plain-uncoated"):
        paper = papers[name]
        for lux in (200, 50, 20):
            print(f"\n{name} at {lux} lx:  strength   each tone   the room   Q, shares   Q")
            on, there = Conditions(paper, Room(illuminance_lux=lux)), Conditions(paper, Room())
            lifted = prepared(there, ShadowLift())(bare(edit, paper))
            for strength in (0.0, 0.25, 0.5, 0.7, 0.8, 0.9, 1.0, 1.25, 1.5):
                out = prepared(on, RoomBrightness(strength=strength))(lifted)
                pairs = zip(views(lifted, there), views(out, on), strict=True)
                cells = [np.sqrt(np.mean((a - b) ** 2)) for a, b in pairs]
                print(f"{strength:30.2f}  {cells[0]:10.4f} {cells[1]:10.4f} {cells[2]:10.4f} {cells[3]:7.1f}")


def views(L: Array, on: Conditions) -> list[Array]:
    """The four measures of `sweep`."""
    white = white_luminance(on.paper, on.room)
    light = luminance(L, on.paper, on.room)
    Q = brightness_of(light / white, white)
    counts = [jnd_index(light), jnd_count_fixed(light, 0.2 * white), Q]
    return [(c - c[0]) / (c[-1] - c[0]) for c in counts] + [Q]


def main() -> None:
    """Print the tables."""
    papers = {}
    for name in presets.names("paper"):
        paper = load(name, "paper").paper
        assert paper is not None
        papers[name] = paper
    if "sweep" in sys.argv:
        sweep(papers)
        return
    for name, paper in papers.items():
        table(name, paper)
    for name in ("gloss", "cotton-rag"):
        table(name, papers[name], "clear")
    tones_goals.goals(papers["cotton-rag"])
    tones_goals.pane(papers)
    tones_goals.spread(papers["cotton-rag"])
    others(papers["cotton-rag"])
    highlights(papers["gloss"])
    colours(papers["cotton-rag"])
    smoothness(papers)
    pictures(papers)
    speed(papers["cotton-rag"])


if __name__ == "__main__":
    main()
