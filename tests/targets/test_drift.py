"""Drift: what a simulated printer changed is found by two simulated scans, and nothing else is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile

from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.profile import Profile
from printprep.errors import InputError
from printprep.targets.drift import Drift, compared, drift
from printprep.targets.scan import both_sheets, open_scan
from printprep.targets.target import SPACE, Known, Target, known_target
from tests.support.command import one_line_error, run
from tests.support.metadata import rich
from tests.support.tiffs import tiff as edit

SCAN_PPI = 200
SEEN = Profile.named(SPACE).data
"""What the scanner's values mean: a space that holds all it sees."""
Change = Callable[[np.ndarray], np.ndarray]


def as_it_was(lab: np.ndarray) -> np.ndarray:
    return lab


def printed(target: Target, change: Change) -> np.ndarray:
    """What a scanner sees of a print, Lab at its resolution: the paper's range is smaller, its white is not white."""
    return change(_printed(target.path, target.ppi).copy())


@lru_cache
def _printed(path: Path, ppi: float) -> np.ndarray:
    pixels = tifffile.imread(path)
    height, width = (round(n / ppi * SCAN_PPI) for n in pixels.shape[:2])
    small = cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA).astype(np.float32) / 65535
    lab = np.asarray(lab_from_device(small, Profile.named(SPACE).data), np.float64)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    lab[..., 1:] *= (np.minimum(chroma, 55 + 0.1 * chroma) / np.maximum(chroma, 1e-6))[..., None]
    lab[..., 0] = 15 + 0.8 * lab[..., 0]
    return lab


def scanned(
    path: Path, left: np.ndarray, right: np.ndarray, *, tilts: tuple[float, float] = (0.6, -1.1), seed: int = 0,
    falloff: float = 0.03, gain: float = 1.0, upright: bool = True, poor: bool = False, **tags: object,
) -> Path:  # fmt: skip
    """Two sheets on a bed that is lit less towards the right, laid a little askew; ink dots and sensor are noise.

    A `poor` scanner is dusty, blurs, has stripes, flare and 8 bits, draws one way longer than the other and not quite
    at right angles, and its lid is black.
    """
    rng = np.random.default_rng(seed)
    high, wide = left.shape[:2]
    bed = np.full((high + 100, 2 * wide + 180, 3), (5.0 if poor else 97.0, 0, 0))
    for sheet, x, tilt in zip((left, right), (60, wide + 120), tilts, strict=True):
        turn = cv2.getRotationMatrix2D((wide / 2, high / 2), tilt, 1.0)
        if poor:
            turn[:, :2] = turn[:, :2] @ [[1, 0.0012], [0, 1.003]]
        turn[:, 2] += x, 50
        over = cv2.warpAffine(np.ones((high, wide), np.float32), turn, bed.shape[1::-1]) > 0.99
        bed[over] = cv2.warpAffine(sheet, turn, bed.shape[1::-1], flags=cv2.INTER_LINEAR)[over]
    bed[..., 0] += rng.normal(0, 2.0, bed.shape[:2])
    values = np.asarray(device_from_lab(bed.reshape(-1, 3).astype(np.float32), SEEN)).reshape(bed.shape)
    linear = np.clip(values, 0, None) ** 1.8
    linear *= (gain * (1 - falloff * np.linspace(0, 1, bed.shape[1])))[None, :, None]
    if poor:
        linear = cv2.GaussianBlur(linear, (0, 0), 0.6) * np.random.default_rng(9).normal(1, 0.004, (1, bed.shape[1], 1))
        linear = 0.9 * linear + 0.004
        for _ in range(200):
            speck = int(rng.integers(0, bed.shape[1])), int(rng.integers(0, bed.shape[0]))
            cv2.circle(linear, speck, int(rng.integers(0, 3)), (float(rng.choice([0.02, 0.8])),) * 3, -1)
        for _ in range(4):
            hair = rng.uniform(0, 160, (4, 2)) + rng.uniform(0, 1, 2) * (bed.shape[1] - 160, bed.shape[0] - 160)
            cv2.polylines(linear, [hair.astype(np.int32)], False, (0.1, 0.1, 0.1), 1)
    codes = (np.clip(linear, 0, 1) ** (1 / 1.8) * 65535).astype(np.uint16)
    codes = (codes // 257).astype(np.uint8) if poor else codes
    if not upright:
        codes = np.ascontiguousarray(np.rot90(codes))
    tifffile.imwrite(
        path, codes, photometric="rgb", iccprofile=SEEN, resolution=(tags.pop("ppi", SCAN_PPI),) * 2,
        resolutionunit=2, **tags,
    )  # fmt: skip
    return path


def found(tmp_path: Path, target: Target, change: Change, **more: object) -> Drift:
    old, new = printed(target, as_it_was), printed(target, change)
    scanned(tmp_path / "1.tif", old, new, **more)  # type: ignore[arg-type]
    scanned(tmp_path / "2.tif", new, old, tilts=(-0.4, 0.9), seed=1, **more)  # type: ignore[arg-type]
    return drift(target.path, tmp_path / "1.tif", tmp_path / "2.tif")


def darks_lighter(lab: np.ndarray) -> np.ndarray:
    grey = np.hypot(lab[..., 1], lab[..., 2]) < 8
    lab[..., 0] += 3 * np.clip((40 - lab[..., 0]) / 10, 0, 1) * grey
    return lab


def yellow_weaker(lab: np.ndarray) -> np.ndarray:
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
    lab[..., 1:] *= 1 - 0.2 * (np.abs(hue - 95) < 30)[..., None]
    return lab


def greys_redder(lab: np.ndarray) -> np.ndarray:
    lab[..., 1] += 2.5 * (np.hypot(lab[..., 1], lab[..., 2]) < 3) * (np.abs(lab[..., 0] - 55) < 22)
    return lab


def all_weaker(lab: np.ndarray) -> np.ndarray:
    lab[..., 1:] *= 0.85
    return lab


@pytest.mark.parametrize(("upright", "poor"), [(True, False), (False, True)])
def test_nothing_moved_where_nothing_did(tmp_path: Path, written_target: Target, upright: bool, poor: bool) -> None:
    done = found(tmp_path, written_target, as_it_was, upright=upright, poor=poor)
    assert done.moved == ()
    assert done.checks == ()
    assert str(done).endswith("nothing moved by more than twice the noise")
    assert done.patches > 200


@pytest.mark.parametrize(
    ("change", "group", "scale", "by", "others", "check"),
    [
        (darks_lighter, "darks", "L*", 2.5, set(), "black ink"),
        (yellow_weaker, "yellows", "C*", -7.0, set(), "nozzles"),
        (greys_redder, "mid greys", "a*", 2.0, {"light greys", "darks"}, "nozzles"),
        (all_weaker, "reds", "C*", -5.0, {"yellows", "greens", "cyans", "blues", "magentas"}, "media setting"),
    ],
)  # fmt: skip
def test_what_moved_is_found_with_its_size_and_nothing_else(
    tmp_path: Path, written_target: Target, change: Change, group: str, scale: str, by: float, others: set[str],
    check: str,
) -> None:  # fmt: skip
    done = found(tmp_path, written_target, change)
    moved = {(each.group, each.scale): each.change for each in done.moved}
    assert moved[group, scale] == pytest.approx(by, abs=abs(by) * 0.35)
    assert {each.group for each in done.moved} - {group} <= others, str(done)
    assert check in done.checks[0]
    assert "CIEDE2000" not in str(done)


def test_a_poor_scanner_finds_it_too(tmp_path: Path, written_target: Target) -> None:
    done = found(tmp_path, written_target, darks_lighter, poor=True)
    assert [(each.group, each.scale) for each in done.moved] == [("darks", "L*")], str(done)
    assert done.moved[0].change == pytest.approx(2.5, abs=0.9)


def test_without_the_swap_the_lamp_would_be_taken_for_the_printer(tmp_path: Path, written_target: Target) -> None:
    old = printed(written_target, as_it_was)
    known = known_target(written_target.path)
    left, right = both_sheets(open_scan(scanned(tmp_path / "1.tif", old, old, falloff=0.12)), known)
    seen = compared(known, (left, right), (left, right))
    assert {"paper", "light greys"} <= {each.group for each in seen.moved}
    assert found(tmp_path, written_target, as_it_was, falloff=0.12).moved == ()


def test_patches_are_those_that_were_printed(tmp_path: Path, written_target: Target) -> None:
    """Each sheet against the colours that were put on it: the noise of one patch is about 0.1 L*."""
    known = known_target(written_target.path)
    old, new = printed(written_target, as_it_was), printed(written_target, all_weaker)
    sheets = both_sheets(open_scan(scanned(tmp_path / "1.tif", old, new, falloff=0.0)), known)
    for sheet, weaker in zip(sheets, (1.0, 0.85), strict=True):
        names = [patch.name for patch in known.patches]
        for name in ("grey-050", "stair-150-24", "grey-090"):
            k = names.index(name)
            L, a, b = known.patches[k].lab
            assert sheet[k] == pytest.approx((15 + 0.8 * L, a * weaker, b * weaker), abs=1.0), name


# ---------------------------------------------------------------- the target again


def test_the_target_is_known_by_its_pixels(tmp_path: Path, written_target: Target) -> None:
    known = known_target(written_target.path)
    assert (known.sheet, known.ppi) == ("105x148", 360)
    assert known.patches == written_target.patches
    pixels = tifffile.imread(written_target.path)
    pixels[700, 700] += 1
    tifffile.imwrite(
        tmp_path / "other.tif", pixels, photometric="rgb", iccprofile=Profile.named(SPACE).data, resolution=(360, 360),
        resolutionunit=2,
    )  # fmt: skip
    with pytest.raises(InputError, match="is no test target of this version as it was written"):
        known_target(tmp_path / "other.tif")


# ---------------------------------------------------------------- what is no pair of scans


@pytest.fixture
def known(written_target: Target) -> Known:
    return known_target(written_target.path)


def refused(path: Path, known: Known, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        both_sheets(open_scan(path), known)
    assert "\n" not in str(caught.value)


def test_photographs_are_refused(tmp_path: Path, written_target: Target, known: Known) -> None:
    old = printed(written_target, as_it_was)
    path = scanned(tmp_path / "1.tif", old, old)
    codes = tifffile.imread(path)
    high, wide = codes.shape[:2]
    ends = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    lean = ends + np.array([[25, 12], [-25, 12], [0, 0], [0, 0]], np.float32)  # the camera's view, from below
    view = cv2.getPerspectiveTransform(ends, lean)
    leaning = cv2.warpPerspective(codes, view, (wide, high), borderValue=(60000,) * 3)
    tags: dict[str, object] = {
        "photometric": "rgb", "iccprofile": SEEN, "resolution": (SCAN_PPI, SCAN_PPI), "resolutionunit": 2
    }  # fmt: skip
    tifffile.imwrite(tmp_path / "2.tif", leaning, **tags)
    refused(tmp_path / "2.tif", known, "is not laid flat|not found in it")
    refused(rich(tmp_path / "3.tif"), known, "is a photograph; scan the sheets on a flat-bed")  # it has an exposure


def test_other_scans_are_refused(tmp_path: Path, written_target: Target, known: Known) -> None:
    old = printed(written_target, as_it_was)
    high, wide = old.shape[:2]
    plain = np.full((high, wide, 3), (92.0, 0, 0))
    refused(scanned(tmp_path / "1.tif", old, plain), known, "two prints of this target are not found")
    refused(scanned(tmp_path / "2.tif", old, old, ppi=100), known, "has 100 pixels per inch; scan with 150")
    refused(scanned(tmp_path / "3.tif", old, old, ppi=230), known, "has another size than it says|not found in it")
    refused(scanned(tmp_path / "4.tif", old, old, gain=1.7), known, "paper white is clipped")


def test_a_scanner_that_corrects_is_noticed(tmp_path: Path, written_target: Target) -> None:
    old = printed(written_target, as_it_was)
    scanned(tmp_path / "1.tif", old, old)
    scanned(tmp_path / "2.tif", old, old, gain=0.7)
    with pytest.raises(InputError, match="saw the same sheets differently in the two scans"):
        drift(written_target.path, tmp_path / "1.tif", tmp_path / "2.tif")


def test_pairs_of_patches_alone(known: Known) -> None:
    n = len(known.patches)
    old = np.full((n, 3), 50.0)
    new = old + np.array([1.0, 0, 0])
    done = compared(known, (old, new), (old, new))
    assert {(each.group, each.scale) for each in done.moved if each.scale == "L*"} == {
        (each.group, "L*") for each in done.all
    }
    blind = np.full((n, 3), np.nan)
    assert compared(known, (blind, new), (old, new)).all == ()
    assert replace(done.all[0], change=0.2, noise=0.0).real is False
    assert replace(done.all[0], change=-1.0, noise=0.6).real is False


# ---------------------------------------------------------------- the command


def test_from_the_command_line(tmp_path: Path, written_target: Target) -> None:
    old, new = printed(written_target, as_it_was), printed(written_target, all_weaker)
    scanned(tmp_path / "1.tif", old, new)
    scanned(tmp_path / "2.tif", new, old, seed=1)
    words = ("target", "--again", written_target.path, "--read", "1.tif")
    told = run(*words, "--swapped", "2.tif", cwd=tmp_path)
    assert told.returncode == 0, told.stderr
    assert "  greens: weaker by " in told.stdout
    assert "no measurement" in told.stderr
    assert "--swapped SCAN.tif is missing" in one_line_error(run(*words, cwd=tmp_path))
    assert "--again LAST.tif is missing" in one_line_error(
        run("target", "--read", "1.tif", "--swapped", "2.tif", cwd=tmp_path)
    )
    assert "--read writes nothing" in one_line_error(run(*words, "--swapped", "2.tif", "-o", "x.tif", cwd=tmp_path))


def test_the_same_target_once_more(tmp_path: Path, written_target: Target) -> None:
    words = ("target", "--again", written_target.path, "-o", "next.tif")
    made = run(*words, cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    assert (tmp_path / "next.tif").read_bytes() == written_target.path.read_bytes()
    assert "leave out --sheet" in one_line_error(run(*words, "--sheet", "A4", cwd=tmp_path))
    assert "is no test target" in one_line_error(
        run("target", "--again", edit(tmp_path / "edit.tif"), "-o", "other.tif", cwd=tmp_path)
    )
