"""Apply a compiled table to pixels with OpenColorIO, in place, in buffers of our own."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Planes
from printprep.render.table import Table


class Engine:
    """A table ready to run; safe to share between threads, and the GIL is released while it runs.

    Parameters
    ----------
    table : Table
        What to apply.
    box : (3, 2) array of float, optional
        Lowest and highest coordinates of the table's sides, where those are not 0 and 1; for `codes`.
    """

    def __init__(self, table: Table, box: NDArray[np.float64] | None = None) -> None:
        self._table, self._box = table, box

    def __reduce__(self) -> tuple[type, tuple[Table, NDArray[np.float64] | None]]:
        return type(self), (self._table, self._box)

    @cached_property
    def _group(self) -> Any:
        import PyOpenColorIO as Ocio

        table = self._table
        group = Ocio.GroupTransform()
        if self._box is not None:
            low, high = self._box[:, 0], self._box[:, 1]
            diagonal = np.diag([*(1 / (high - low)), 1.0])
            group.appendTransform(Ocio.MatrixTransform(diagonal.ravel(), [*(-low / (high - low)), 0.0]))
        if table.shaper is not None:
            group.appendTransform(_curve(Ocio, table.shaper))
        cube = Ocio.Lut3DTransform(table.size)
        cube.setInterpolation(Ocio.INTERP_TETRAHEDRAL)  # keeps greys grey
        cube.setData(table.cube.ravel())
        group.appendTransform(cube)
        if table.unshaper is not None:
            group.appendTransform(_curve(Ocio, table.unshaper))
        return group

    def _processor(self, depth: str, out: str = "") -> Any:
        import PyOpenColorIO as Ocio

        bits, out_bits = getattr(Ocio, depth), getattr(Ocio, out or depth)
        config = Ocio.Config.CreateRaw()
        config.setProcessorCacheFlags(Ocio.PROCESSOR_CACHE_OFF)  # it would hash the table to know it again
        return config.getProcessor(self._group).getOptimizedCPUProcessor(bits, out_bits, Ocio.OPTIMIZATION_DEFAULT)

    @cached_property
    def _codes(self) -> Any:
        return self._processor("BIT_DEPTH_UINT16")

    @cached_property
    def _values(self) -> Any:
        return self._processor("BIT_DEPTH_F32")

    @cached_property
    def _codes_to_values(self) -> Any:
        return self._processor("BIT_DEPTH_UINT16", "BIT_DEPTH_F32")

    @cached_property
    def _values_to_codes(self) -> Any:
        return self._processor("BIT_DEPTH_F32", "BIT_DEPTH_UINT16")

    def prepare(self) -> None:
        """Build what `apply` needs now, so that threads find it ready."""
        self._codes  # noqa: B018

    def apply(self, buffer: NDArray[np.uint16]) -> None:
        """Overwrite 16-bit codes by their results.

        Parameters
        ----------
        buffer : (rows, columns, 3) ndarray of uint16
            Contiguous, writable and the caller's own. OpenColorIO would write through a read-only
            array or a memory map and end the process, so both are refused here.
        """
        import PyOpenColorIO as Ocio

        _insist(buffer, np.uint16)
        rows, columns, _ = buffer.shape
        if buffer.size:
            self._codes.apply(Ocio.PackedImageDesc(buffer, columns, rows, 3, Ocio.BIT_DEPTH_UINT16, 2, 6, 6 * columns))

    def apply_values(self, buffer: NDArray[np.float32]) -> None:
        """Overwrite device values 0..1 by their results; (rows, columns, 3) float32, the caller's own."""
        import PyOpenColorIO as Ocio

        _insist(buffer, np.float32)
        rows, columns, _ = buffer.shape
        if buffer.size:
            self._values.apply(Ocio.PackedImageDesc(buffer, columns, rows, 3, Ocio.BIT_DEPTH_F32, 4, 12, 12 * columns))

    def planes(self, codes: NDArray[np.uint16]) -> Planes:
        """The results of 16-bit codes, as planes of floats.

        Parameters
        ----------
        codes : (rows, columns, 3) ndarray of uint16
            Contiguous and the caller's own; stays as it is.

        Returns
        -------
        tuple of three (rows, columns) ndarray of float32
        """
        import PyOpenColorIO as Ocio

        _insist(codes, np.uint16)
        rows, columns, _ = codes.shape
        one, two, three = (np.empty((rows, columns), np.float32) for _ in range(3))
        if codes.size:
            self._codes_to_values.apply(
                Ocio.PackedImageDesc(codes, columns, rows, 3, Ocio.BIT_DEPTH_UINT16, 2, 6, 6 * columns),
                Ocio.PlanarImageDesc(one, two, three, columns, rows, Ocio.BIT_DEPTH_F32, 4, 4 * columns),
            )
        return one, two, three

    def codes(self, planes: Planes) -> NDArray[np.uint16]:
        """16-bit codes of planes of floats; the reverse way of `planes`."""
        import PyOpenColorIO as Ocio

        one, two, three = (np.ascontiguousarray(plane, np.float32) for plane in planes)
        rows, columns = one.shape
        if not one.shape == two.shape == three.shape:
            raise ValueError("all planes must have one shape")
        out = np.empty((rows, columns, 3), np.uint16)
        if out.size:
            self._values_to_codes.apply(
                Ocio.PlanarImageDesc(one, two, three, columns, rows, Ocio.BIT_DEPTH_F32, 4, 4 * columns),
                Ocio.PackedImageDesc(out, columns, rows, 3, Ocio.BIT_DEPTH_UINT16, 2, 6, 6 * columns),
            )
        return out

    def clf(self, title: str, descriptions: Iterable[str] = (), given: str = "", wanted: str = "") -> str:
        """The table as text in the Common LUT Format (SMPTE ST 2136-1, CLF version 3).

        Parameters
        ----------
        title : str
            The file's ``id``.
        descriptions : iterable of str
            One ``Description`` each.
        given, wanted : str
            What its values are before and after: ``InputDescriptor``, ``OutputDescriptor``.
        """
        import PyOpenColorIO as Ocio

        group = deepcopy(self._group)  # threads share the other
        about = group.getFormatMetadata()
        about.setID(title)
        for text in descriptions:
            about.addChildElement("Description", text)
        for name, text in (("InputDescriptor", given), ("OutputDescriptor", wanted)):
            if text:
                about.addChildElement(name, text)
        return str(group.write("Academy/ASC Common LUT Format", Ocio.Config.CreateRaw()))


def _curve(ocio: Any, values: NDArray[np.float32]) -> Any:
    curve = ocio.Lut1DTransform(len(values), False)
    curve.setData(np.repeat(values, 3))
    return curve


def _insist(buffer: NDArray[Any], dtype: type) -> None:
    base: Any = buffer
    while base is not None:
        if isinstance(base, np.memmap):
            raise ValueError("the buffer is a memory map; copy the rows into an array of your own")
        base = getattr(base, "base", None)
    if buffer.dtype != dtype or buffer.ndim != 3 or buffer.shape[2] != 3:
        raise ValueError(f"the buffer must be (rows, columns, 3) {dtype.__name__}")
    if not (buffer.flags.writeable and buffer.flags.c_contiguous):
        raise ValueError("the buffer must be contiguous and writable")
