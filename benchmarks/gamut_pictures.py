"""Pictures and papers to judge gamut mapping on: open photographs and measurements, whatever the machine holds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.profile import Profile
from printprep.conditions.paper import Paper

Array = NDArray[np.float32]

FOLDERS = ("/usr/share/backgrounds", "/usr/share/wallpapers")
"""Where Debian's packages of photographs put them (gnome-, mate-, lomiri- and plasma-); absent on other machines."""

RAISED = 4 / 3
"""Chroma of an edit that raised it by a third."""

LOOKED_AT = (
    "astronaut", "coffee", "flower", "FreshFlower", "YellowFlower", "Garden", "LadyBird", "Dune", "sunset", "seeding",
    "Wine", "Painting-Colors", "EveningGlow", "ColorfulCups", "DarkestHour", "Kite",
)  # fmt: skip
"""Pictures that may be looked at while numbers are chosen."""

KEPT_APART = (
    "chelsea", "rocket", "motorcycle", "retina", "china", "Kleiber", "Fossa", "Dragonfly", "RainDrops", "Aqua",
    "TwoWings", "Storm", "Picture_1A", "Picture_0B", "umang", "the-mouse", "rhythm", "greentock", "aitzgorri", "Bridge",
    "friends", "life", "Infinite-Sea", "Wood", "free", "BytheWater", "FallenLeaf", "OneStandsOut", "Path", "Volna",
    "picosdeeuropa", "Blinds", "GreenMeadow", "Shell", "MilkyWay", "summer_1am",
)  # fmt: skip
"""Pictures that are judged on alone."""

BUNDLED = ("astronaut", "chelsea", "coffee", "rocket", "retina", "motorcycle", "china", "flower")
"""Those that scikit-image and scikit-learn bring."""


@dataclass(frozen=True)
class Picture:
    """One edit.

    Parameters
    ----------
    name : str
        Its own, with "+" where chroma was raised.
    codes : (h, w, 3) ndarray of uint16
        Device values.
    space : {"sRGB", "ROMM RGB"}
        What they mean.
    """

    name: str
    codes: NDArray[np.uint16]
    space: str

    @cached_property
    def lab(self) -> Array:
        """Media-relative Lab before compensation."""
        values = self.codes.astype(np.float32) / np.float32(65535)
        return np.asarray(lab_from_device(values, Profile.named(self.space).data), np.float32)

    def asked(self, paper: Paper) -> Array:
        """Print-referred Lab on a paper."""
        return compensate(self.lab, 0.0, paper.neutral_black).astype(np.float32)


def pictures(short_side: int = 320, only: str = "", names: tuple[str, ...] = LOOKED_AT + KEPT_APART) -> list[Picture]:
    """Open photographs as they are and with chroma raised.

    Parameters
    ----------
    short_side : int, pixels
        Of the shorter side, at most.
    only : str
        "bundled": those of scikit-image and scikit-learn; "system": those of Debian's packages.
    names : tuple of str
        Which; those that the machine lacks are left out.
    """
    import cv2

    found = []
    for name in names:
        if only and (only == "bundled") != (name in BUNDLED):
            continue
        rgb = photograph(name)
        if rgb is None:
            continue
        scale = short_side / min(rgb.shape[:2])
        if scale < 1:
            shape = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
            rgb = cv2.resize(rgb, shape, interpolation=cv2.INTER_AREA)
        plain = Picture(name, rgb.astype(np.uint16) * np.uint16(257), "sRGB")
        found += [plain, raised(plain)]
    return found


def raised(picture: Picture) -> Picture:
    """The same with chroma raised by a third, in a space that holds it."""
    lab = picture.lab * np.array([1, RAISED, RAISED], np.float32)
    device = device_from_lab(lab, Profile.named("ROMM RGB").data)
    return Picture(picture.name + " +", np.rint(np.clip(device, 0, 1) * 65535).astype(np.uint16), "ROMM RGB")


def photograph(name: str) -> NDArray[np.uint8] | None:
    """One photograph by the beginning of its name, sRGB; None where the machine lacks it."""
    if name in ("china", "flower"):
        try:
            from sklearn.datasets import load_sample_image
        except ImportError:
            return None
        return np.asarray(load_sample_image(f"{name}.jpg"))
    import skimage.data

    if name == "motorcycle":
        from skimage.io import imread

        return np.asarray(imread(Path(skimage.data.__file__).parent / "motorcycle_left.png")[..., :3])
    if name in BUNDLED:
        return np.asarray(getattr(skimage.data, name)()[..., :3])
    import cv2

    files = [
        path for folder in FOLDERS for pattern in (f"**/{name}*.jpg", f"**/{name}*.png", f"{name}/contents/images/*.*")
        for path in Path(folder).glob(pattern) if path.is_file() and not path.is_symlink()
    ]  # fmt: skip
    if not files:
        return None
    image = cv2.imread(str(max(files, key=lambda path: path.stat().st_size)), cv2.IMREAD_COLOR)
    return None if image is None else np.ascontiguousarray(image[..., ::-1])


def papers(extra: str = "") -> dict[str, Paper]:
    """The two shipped measurements, and any in a folder of others.

    Parameters
    ----------
    extra : str
        A folder with more CGATS.17 files.
    """
    shipped = Path(__file__).resolve().parents[1] / "presets" / "measurements"
    found = {p.stem: Paper.from_measurement(p) for p in sorted(shipped.glob("*.txt")) if p.stem != "LICENCE"}
    if extra:
        for path in sorted(Path(extra).glob("*.ti3")) + sorted(Path(extra).glob("*.txt")):
            if path.stem not in found:
                found[path.stem] = Paper.from_measurement(path)
    return found
