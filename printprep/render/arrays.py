"""Apply a plan to arrays: pictures with their field, lists of colours without, leading axes one by one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.errors import ParameterError, expect
from printprep.photo.array import device_values
from printprep.photo.bands import band_rows, read_all, run, thread_count
from printprep.photo.pixels import ArrayPixels
from printprep.photo.small import small
from printprep.render.field import Field
from printprep.render.lightness import LightnessPixels
from printprep.render.plan import Plan

PlanOf = Callable[[NDArray[np.float32] | None], Plan]
"""The plan for a picture read small; for colours without surroundings where there is none."""


def applied(rgb: object, plan: PlanOf, field: Field | None, at: tuple[int, int], *, clip: bool) -> NDArray[Any]:
    """What `Pipeline.apply` returns, of an array that nobody has looked at yet.

    Raises
    ------
    ParameterError
        As `Pipeline.apply`.
    """
    expect("at", at, tuple, "must be a row and a column")
    if np.shape(at) != (2,) or np.asarray(at).dtype.kind not in "iu":
        raise ParameterError("at", at, "must be a row and a column")
    array = device_values(rgb, clip=clip)
    if field is not None:
        expect("field", field, Field, "must be a Field", "Pipeline.field makes one")
        if array.ndim != 3:
            raise ParameterError("rgb", array.shape, "must be a part of the field's picture: (height, width, 3)")
        if not (0 <= at[0] <= field.height - array.shape[0] and 0 <= at[1] <= field.width - array.shape[1]):
            raise ParameterError("at", at, f"must lie within the field's picture of {field.height} x {field.width}")
    done = prepared(array, plan, field, at)
    dtype = rgb.dtype if isinstance(rgb, np.ndarray) else array.dtype
    return done if done.dtype == dtype else done.astype(dtype)  # the other byte order


def prepared(
    array: NDArray[Any], plan: PlanOf, field: Field | None = None, at: tuple[int, int] = (0, 0)
) -> NDArray[Any]:
    """Device values after a plan, of the same dtype: of uint8, uint16 or floating point, (..., 3).

    (..., height, width, 3) with more than one row and column is pictures, anything else colours by themselves. With
    the `field` of a whole picture, the array is the part of it that begins at row and column `at`.
    """
    if array.size == 0:
        return array.copy()
    if field is None and (array.ndim < 3 or 1 in array.shape[-3:-1]):
        alone = plan(None).flat
        nothing = Field.nothing(1, array.size // 3)
        return _part(array.reshape(1, -1, 3), alone, nothing, (0, 0)).reshape(array.shape)
    if array.ndim == 3:
        return _picture(array, plan, field, at)
    out = np.empty_like(array, order="C")
    for index in np.ndindex(array.shape[:-3]):
        out[index] = _picture(array[index], plan, field, at)
    return out


def _picture(array: NDArray[Any], plan: PlanOf, field: Field | None, at: tuple[int, int]) -> NDArray[Any]:
    if field is not None:
        return _part(array, plan(field.codes), field, at)
    height, width = array.shape[:2]
    codes = small(ArrayPixels(_sixteen(array)))
    chosen = plan(codes)
    return _part(array, chosen, chosen.field(codes, height, width), at)


def _sixteen(array: NDArray[Any]) -> NDArray[np.uint16]:
    if array.dtype.kind == "f":
        return np.asarray(np.rint(np.asarray(array, np.float32) * np.float32(65535)), np.uint16)
    return np.asarray(array if array.dtype == np.uint16 else array.astype(np.uint16) * np.uint16(257), np.uint16)


def _part(array: NDArray[Any], plan: Plan, field: Field, at: tuple[int, int]) -> NDArray[Any]:
    if plan.idle:
        return array.copy()
    floating = array.dtype.kind == "f"
    values: NDArray[Any] = np.array(array if floating else _sixteen(array), np.float32 if floating else None, order="C")
    if plan.detail is None or (plan.reach and floating):
        field.expose(values, *at)
        scale = np.float32(1 if floating else 65535)
        values = plan.chain(np.asarray(values / scale, np.float32)) * scale
        values = values if floating else np.rint(values)
    elif plan.detail:
        if not plan.tabled.idle:
            _in_bands(values, plan.tabled, field, at)
        values = read_all(LightnessPixels(ArrayPixels(values), plan.chain, plan.detail))
    else:
        _in_bands(values, plan, field, at)
    if array.dtype == np.uint8:
        values = np.rint(values / 257)
    return np.clip(values, 0, 1).astype(array.dtype) if floating else values.astype(array.dtype)


def _in_bands(values: NDArray[Any], plan: Plan, field: Field, at: tuple[int, int]) -> None:
    """Overwrite float32 or 16-bit values by their results."""
    rows = band_rows(values.shape[1])

    def work(i: int) -> None:
        band = values[i * rows : (i + 1) * rows]
        field.expose(band, at[0] + i * rows, at[1])
        plan.engine.apply(band)

    run(-(-len(values) // rows), thread_count(), lambda: work)
