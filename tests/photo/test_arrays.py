"""Arrays as others make them: seen without loss, or refused with a way out."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

import printprep as pp
from printprep.errors import ParameterError
from printprep.photo.array import KINDS


@pytest.fixture(scope="module")
def pipe() -> pp.Pipeline:
    return pp.pipeline(paper="cotton-rag", room="hallway")


def codes(*shape: int) -> NDArray[np.uint16]:
    return np.random.default_rng(0).integers(0, 65536, (*shape, 3), dtype=np.uint16)


def as_kind(kind: str, wide: NDArray[np.uint16]) -> NDArray[Any]:
    return (wide >> 8).astype(kind) if kind == "uint8" else wide if kind == "uint16" else (wide / 65535).astype(kind)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("order", ["<", ">"])
def test_dtypes_are_kept_with_their_byte_order(pipe: pp.Pipeline, kind: str, order: Literal["<", ">"]) -> None:
    plain = as_kind(kind, codes(20, 30))
    other = plain.astype(plain.dtype.newbyteorder(order))
    done = pipe.apply(other, "sRGB")
    assert done.dtype == other.dtype
    assert np.array_equal(done, pipe.apply(plain, "sRGB"))
    assert np.array_equal(pp.Photo.from_array(other), np.asarray(pp.Photo.from_array(plain)))


def test_leading_axes_are_pictures_by_themselves(pipe: pp.Pipeline) -> None:
    batch = codes(2, 3, 20, 30)
    done = pipe.apply(batch, "sRGB")
    for at in np.ndindex(2, 3):
        assert np.array_equal(done[at], pipe.apply(batch[at], "sRGB"))


def test_memory_of_any_kind(pipe: pp.Pipeline, tmp_path: Path) -> None:
    wide = codes(20, 30)
    whole = pipe.apply(wide, "sRGB")
    locked = wide.copy()
    locked.flags.writeable = False
    np.save(tmp_path / "a.npy", wide)
    before = (tmp_path / "a.npy").read_bytes()
    mapped = np.load(tmp_path / "a.npy", mmap_mode="r+")
    wider = np.zeros((40, 60, 5), np.uint16)
    wider[::2, ::2, 1:4] = wide
    for same in (locked, mapped, np.asfortranarray(wide), wider[::2, ::2, 1:4], wide[::-1][::-1]):
        done = pipe.apply(same, "sRGB")
        assert np.array_equal(done, whole)
        assert type(done) is np.ndarray and done.flags.writeable and not np.shares_memory(done, same)
    assert np.array_equal(pipe.apply(wide[::-1], "sRGB"), pipe.apply(wide[::-1].copy(), "sRGB"))
    assert (tmp_path / "a.npy").read_bytes() == before
    assert np.array_equal(wide, codes(20, 30))


class OnlyArray:
    def __init__(self, array: NDArray[Any]) -> None:
        self.array = array

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]:
        return self.array


class OnlyDLPack:
    def __init__(self, array: NDArray[Any]) -> None:
        self.array = array

    def __dlpack__(self, **more: Any) -> Any:
        return self.array.__dlpack__(**more)

    def __dlpack_device__(self) -> tuple[Any, int]:
        return self.array.__dlpack_device__()


class Elsewhere(OnlyDLPack):
    """As an array in the memory of an accelerator answers."""

    def __dlpack__(self, **more: Any) -> Any:
        raise BufferError("data is on another device\nand cannot be exported")


def test_arrays_of_other_libraries(pipe: pp.Pipeline) -> None:
    strict = pytest.importorskip("array_api_strict")  # the array API standard's own strict example
    wide = codes(20, 30)
    whole = pipe.apply(wide, "sRGB")
    for same in (OnlyArray(wide), OnlyDLPack(wide), strict.asarray(wide), wide.data):
        assert np.array_equal(pipe.apply(same, "sRGB"), whole)
        assert np.array_equal(pp.Photo.from_array(same), wide)
    image: Any = Image.fromarray((wide >> 8).astype(np.uint8))
    assert np.array_equal(pipe.apply(image, "sRGB"), pipe.apply((wide >> 8).astype(np.uint8), "sRGB"))


GOOD = np.full((4, 5, 3), 0.5)


def spoilt(*values: float) -> NDArray[np.float64]:
    array = GOOD.copy()
    for k, value in enumerate(values):
        array[1, 2 + k, 0] = value
    return array


REFUSED: list[tuple[Any, str]] = [
    (spoilt(1.0000001), r"rgb = 1\.0000001: 1 of 60 floats are outside 0\.\.1, the first at \[1, 2, 0\]; .*clip=True"),
    (spoilt(-0.001, 1.5), r"2 of 60 floats are outside 0\.\.1, from -0\.001 to 1\.5, the first at \[1, 2, 0\]"),
    (spoilt(np.nan), r"rgb = nan: 1 of 60 floats are not finite, the first at \[1, 2, 0\]; replace them"),
    (np.zeros((4, 5, 4)), r"leave alpha out: rgb\[\.\.\., :3\]"),
    (np.zeros((3, 40, 50)), r"put channels last: np\.moveaxis\(rgb, -3, -1\)"),
    (np.zeros((4, 5, 1)), "make greys three channels"),
    (np.zeros((4, 5)), "make greys three channels"),
    ([[[1, 2, 3]]], "say which by astype: np.uint8"),
    (np.zeros((2, 2, 3), bool), "must be uint8, uint16 or a float"),
    (np.ma.masked_less(GOOD * 0, 1), "has 60 masked values; fill them"),
    (Elsewhere(GOOD), r"Elsewhere.*cannot be seen as an array \(data is on another device\); move it"),
    ("text", "rgb"),
    (None, "rgb"),
]


@pytest.mark.parametrize(("wrong", "said"), REFUSED)
def test_what_means_no_colours_is_refused_with_a_way_out(pipe: pp.Pipeline, wrong: Any, said: str) -> None:
    for call in (lambda: pipe.apply(wrong, "sRGB"), lambda: pp.Photo.from_array(wrong)):
        with pytest.raises(ParameterError, match=said) as caught:
            call()
        assert "\n" not in str(caught.value)


def test_the_ways_out_lead_out(pipe: pp.Pipeline) -> None:
    rgba, first, grey = codes(4, 5)[..., [0, 1, 2, 0]], np.moveaxis(codes(4, 5), -1, 0), codes(4, 5)[..., 0]
    assert np.array_equal(pipe.apply(rgba[..., :3], "sRGB"), pipe.apply(codes(4, 5), "sRGB"))
    assert np.array_equal(pipe.apply(np.moveaxis(first, -3, -1), "sRGB"), pipe.apply(codes(4, 5), "sRGB"))
    assert pipe.apply(np.repeat(grey.reshape(*grey.shape[:2], 1), 3, axis=-1), "sRGB").shape == (4, 5, 3)


def test_clip(pipe: pp.Pipeline) -> None:
    wrong = spoilt(1.0000001, -0.001)
    kept = wrong.copy()
    assert np.array_equal(pipe.apply(wrong, "sRGB", clip=True), pipe.apply(spoilt(1, 0), "sRGB"))
    assert np.array_equal(pp.Photo.from_array(wrong, clip=True), pp.Photo.from_array(spoilt(1, 0)))
    assert np.array_equal(wrong, kept)
    with pytest.raises(ParameterError, match="not finite"):
        pipe.apply(spoilt(np.inf), "sRGB", clip=True)
