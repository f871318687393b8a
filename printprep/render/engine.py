"""Apply a compiled table to pixels with OpenColorIO, in place, in buffers of our own."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import deepcopy
from functools import cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.render.table import Table


class Engine:
    """A table ready to run; safe to share between threads, and the GIL is released while it runs.

    `trilinear` reads between nodes as simple programs do, which tints greys; to know what they would make of a table.
    """

    def __init__(self, table: Table, *, trilinear: bool = False) -> None:
        self._table, self._trilinear = table, trilinear

    def __reduce__(self) -> tuple[Callable[..., Engine], tuple[Table]]:
        return partial(type(self), trilinear=self._trilinear), (self._table,)

    @cached_property
    def _group(self) -> Any:
        import PyOpenColorIO as Ocio

        table = self._table
        group = Ocio.GroupTransform()
        if table.shaper is not None:
            group.appendTransform(_curve(Ocio, table.shaper))
        cube = Ocio.Lut3DTransform(table.size)
        cube.setInterpolation(Ocio.INTERP_LINEAR if self._trilinear else Ocio.INTERP_TETRAHEDRAL)  # keeps greys grey
        cube.setData(table.cube.ravel())
        group.appendTransform(cube)
        if table.unshaper is not None:
            group.appendTransform(_curve(Ocio, table.unshaper))
        return group

    def _processor(self, bits: Any) -> Any:
        import PyOpenColorIO as Ocio

        config = Ocio.Config.CreateRaw()
        config.setProcessorCacheFlags(Ocio.PROCESSOR_CACHE_OFF)  # it would hash the table to know it again
        return config.getProcessor(self._group).getOptimizedCPUProcessor(bits, bits, Ocio.OPTIMIZATION_DEFAULT)

    @cached_property
    def _codes(self) -> Any:
        import PyOpenColorIO as Ocio

        return self._processor(Ocio.BIT_DEPTH_UINT16)

    @cached_property
    def _values(self) -> Any:
        import PyOpenColorIO as Ocio

        return self._processor(Ocio.BIT_DEPTH_F32)

    def prepare(self) -> None:
        """Build what `apply` needs now, so that threads find it ready."""
        self._codes  # noqa: B018

    def apply(self, buffer: NDArray[np.uint16] | NDArray[np.float32]) -> None:
        """Overwrite codes of 16 bits, or device values 0..1 of float32, (rows, columns, 3), by their results.

        The buffer is contiguous, writable and the caller's own: OpenColorIO would write through a read-only
        array or a memory map and end the process, so both are refused here.
        """
        import PyOpenColorIO as Ocio

        _insist(buffer)
        rows, columns, _ = buffer.shape
        if buffer.size:
            whole, size = buffer.dtype == np.uint16, buffer.itemsize
            bits = Ocio.BIT_DEPTH_UINT16 if whole else Ocio.BIT_DEPTH_F32
            image = Ocio.PackedImageDesc(buffer, columns, rows, 3, bits, size, 3 * size, 3 * size * columns)
            (self._codes if whole else self._values).apply(image)

    def clf(self, title: str, descriptions: Iterable[str] = (), given: str = "", wanted: str = "") -> str:
        """The table as text in the Common LUT Format (SMPTE ST 2136-1, CLF version 3).

        `title` becomes the file's ``id``; `given` and `wanted` say what its values are before and after.
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

    def baked(self, size: int) -> str:
        """The table and its shapers as one cube, in the text of ``.cube`` files, by OpenColorIO's own baker."""
        import PyOpenColorIO as Ocio

        config = Ocio.Config.CreateRaw()
        config.addColorSpace(Ocio.ColorSpace(name="edit"))
        made = Ocio.ColorSpace(name="prepared")
        made.setTransform(deepcopy(self._group), Ocio.COLORSPACE_DIR_FROM_REFERENCE)
        config.addColorSpace(made)
        baker = Ocio.Baker()
        baker.setConfig(config)
        baker.setFormat("iridas_cube")
        baker.setInputSpace("edit")
        baker.setTargetSpace("prepared")
        baker.setCubeSize(size)
        return str(baker.bake())


def _curve(ocio: Any, values: NDArray[np.float32]) -> Any:
    curve = ocio.Lut1DTransform(len(values), False)
    curve.setData(np.repeat(values, 3))
    return curve


def _insist(buffer: NDArray[Any]) -> None:
    base: Any = buffer
    while base is not None:
        if isinstance(base, np.memmap):
            raise ValueError("the buffer is a memory map; copy the rows into an array of your own")
        base = getattr(base, "base", None)
    if buffer.dtype not in (np.uint16, np.float32) or buffer.ndim != 3 or buffer.shape[2] != 3:
        raise ValueError("the buffer must be (rows, columns, 3) of uint16 or float32")
    if not (buffer.flags.writeable and buffer.flags.c_contiguous):
        raise ValueError("the buffer must be contiguous and writable")
