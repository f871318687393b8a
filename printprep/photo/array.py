"""Arrays as others make them, looked at and made ready: what kind they are, and that their values mean colours."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.errors import ParameterError

KINDS = ("uint8", "uint16", "float16", "float32", "float64")
"""Types of values, in either byte order."""


class ArrayInterface(Protocol):
    """Arrays that NumPy sees into, such as Pillow's images."""

    @property
    def __array_interface__(self) -> dict[str, Any]: ...


class DLPack(Protocol):
    """Arrays that can be shared by DLPack (dmlc.github.io/dlpack), as the array API standard wants."""

    def __dlpack__(self, **more: Any) -> Any: ...

    def __dlpack_device__(self) -> tuple[Any, int]: ...


AnyArray = ArrayLike | ArrayInterface | DLPack


def device_values(rgb: object, *, clip: bool = False, picture: bool = False) -> NDArray[Any]:
    """Device values as an array of one of `KINDS` in the machine's byte order; the same memory where that will do.

    It may be NumPy's array, or anything that it can see into or that shares itself by DLPack; read-only, strided and
    mapped memory is fine, as nothing is written into it. With `clip`, floats below 0 are 0, those above 1 are 1; with
    `picture`, the shape must be (height, width, 3), with some pixels.

    Another shape or type, masked values, or floats not within 0..1 are a ParameterError: which, how many and where.
    """
    array = _seen(rgb)
    if array.ndim == 0 or array.shape[-1] != 3 or (picture and (array.ndim != 3 or array.size == 0)):
        wanted = "(height, width, 3), with some pixels" if picture else "(..., 3)"
        raise ParameterError("rgb", array.shape, f"must have the shape {wanted}", _way_out(array.shape))
    if array.dtype.name not in KINDS:
        do = "say which by astype: np.uint8 and np.uint16 are codes, floats are 0 to 1"
        raise ParameterError("rgb", str(array.dtype), "must be uint8, uint16 or a float between 0 and 1", do)
    array = array if array.dtype.isnative else array.astype(array.dtype.newbyteorder("="))
    return _within(array, clip) if array.dtype.kind == "f" else array


def _seen(rgb: Any) -> NDArray[Any]:
    if isinstance(rgb, np.ma.MaskedArray) and np.ma.is_masked(rgb):
        count = int(np.ma.getmaskarray(rgb).sum())
        raise ParameterError("rgb", type(rgb).__name__, f"has {count} masked values", "fill them: rgb.filled(0)")
    if isinstance(rgb, np.ndarray):
        return np.asarray(rgb)
    shares = hasattr(rgb, "__dlpack__") and not any(hasattr(rgb, n) for n in ("__array__", "__array_interface__"))
    try:
        return np.from_dlpack(rgb) if shares else np.asarray(rgb)
    except MemoryError:
        raise
    except Exception as error:  # whatever another library raises
        said = str(error).strip().partition("\n")[0] or type(error).__name__
        do = "move it to the processor's memory and hand in a plain array"
        raise ParameterError("rgb", type(rgb).__name__, f"cannot be seen as an array ({said})", do) from error


def _way_out(shape: tuple[int, ...]) -> str:
    """What to do with the shapes that one meets."""
    if shape and shape[-1] == 4:
        return "leave alpha out: rgb[..., :3], set on its ground before"
    if len(shape) >= 3 and shape[-3] == 3:
        return "put channels last: np.moveaxis(rgb, -3, -1)"
    if len(shape) == 2 or (shape and shape[-1] == 1):
        return "make greys three channels: np.repeat(grey.reshape(*grey.shape[:2], 1), 3, axis=-1)"
    return "correct it"


def _within(array: NDArray[Any], clip: bool) -> NDArray[Any]:
    if array.size == 0:
        return array
    low, high = float(array.min()), float(array.max())  # NaN, where there is one
    if low >= 0 and high <= 1:
        return array
    finite = np.isfinite(array)
    if not finite.all():
        raise _refused(array, ~finite, "are not finite", "replace them")
    if not clip:
        raise _refused(array, (array < 0) | (array > 1), "are outside 0..1", "scale them, or pass clip=True")
    clipped: NDArray[Any] = np.clip(array, 0, 1)
    return clipped


def _refused(array: NDArray[Any], wrong: NDArray[np.bool_], what: str, do: str) -> ParameterError:
    count, first = int(wrong.sum()), np.unravel_index(int(wrong.argmax()), array.shape)
    worst = array[wrong]
    worst = worst[np.isfinite(worst)]
    span = f", from {worst.min():.9g} to {worst.max():.9g}" if len(worst) > 1 else ""
    place = ", ".join(str(int(i)) for i in first)
    said = f"{count} of {array.size} floats {what}{span}, the first at [{place}]"
    return ParameterError("rgb", float(array[first]), said, do)
