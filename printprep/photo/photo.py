"""A photograph: pixels that are read when asked for, with all that belongs to them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from printprep.colour.profile import Profile
from printprep.errors import ParameterError
from printprep.files.names import AnyPath
from printprep.files.streams import AnyFile
from printprep.parameters import checked_call
from printprep.photo.array import AnyArray, device_values
from printprep.photo.bands import read_all, thread_count
from printprep.photo.metadata import Metadata
from printprep.photo.picture import Picture
from printprep.photo.pixels import ArrayPixels
from printprep.photo.resolution import Resolution
from printprep.photo.small import small, thumbnail
from printprep.photo.write import Written, write


@dataclass(frozen=True)
class Photo(Picture):
    """A photograph whose pixels are read when it is written or asked for.

    Attributes
    ----------
    pixels : Pixels
        16-bit RGB rows.
    profile : Profile
        What its values mean.
    resolution : Resolution
        Pixels per inch.
    metadata : Metadata
        Text, camera and rights data, carried along as bytes.
    path : Path or None
        Where it came from.
    announcements : tuple of str
        What was interpreted or left out on reading: one sentence each, without the file's name.
    compression : str
        How the source is stored; the output is stored alike where possible.
    ticket : callable, optional
        Of a prepared photo: gives the job ticket, and is called once all pixels have been written.
    store : InputFile, optional
        The open file or the place that it is read from, where that is no path.
    part : Part, optional
        What it is a part of, which then decides what a whole picture decides; see `printprep.as_panels`.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> photo = pp.Photo.from_array(np.zeros((40, 60, 3), np.uint16), "opRGB", ppi=240)
    >>> photo.write("black.tif", compress="zstd").compression
    'zstd'
    """

    @classmethod
    @checked_call
    def from_array(
        cls,
        rgb: AnyArray,
        profile: AnyPath | Profile | None = None,
        *,
        ppi: float = 300.0,
        metadata: Metadata | None = None,
        clip: bool = False,
    ) -> Self:
        """A photograph from an array.

        Parameters
        ----------
        rgb : (height, width, 3) array
            uint16, uint8, or floating point 0..1; of NumPy, or what it can see into or DLPack can share.
        profile : str, path, bytes or Profile, optional
            What the values mean; if not given, the ICC profile that a Pillow image carries, else sRGB.
        ppi : float, pixels per inch
            Resolution.
        metadata : Metadata, optional
            Carried along.
        clip : bool
            Take floats below 0 as 0 and those above 1 as 1, in place of refusing them.

        Raises
        ------
        ParameterError
            For another shape or type, or values that are not within 0..1.
        InputError, UnknownName
            If the profile cannot be used.

        Examples
        --------
        >>> import numpy as np
        >>> import printprep as pp
        >>> pp.Photo.from_array(np.full((40, 60, 3), 0.5), "opRGB", ppi=240).shape
        (40, 60, 3)
        """
        array = device_values(rgb, clip=clip, picture=True)
        found = Profile.load(carried(rgb) or "sRGB" if profile is None else profile)
        if found.model != "RGB":
            raise ParameterError("profile", found.model, "must be for RGB")
        return cls(ArrayPixels(_sixteen(array)), found, Resolution(ppi), metadata or Metadata())

    @property
    def shape(self) -> tuple[int, int, int]:
        """(height, width, 3)."""
        return self.height, self.width, 3

    @property
    def prepared(self) -> bool:
        """Whether a pipeline is or was at work on it: its file carries a job ticket, or will."""
        return self.ticket is not None or self.metadata.ticket is not None

    def __getstate__(self) -> dict[str, Any]:
        # a copy elsewhere must know its file still, to read it and never to replace it; it reads itself small anew
        kept = {key: value for key, value in vars(self).items() if key != "small"}
        return {**kept, "path": self.path and self.path.absolute()}

    @cached_property
    def small(self) -> NDArray[np.float32]:
        """The picture read small, some 320 pixels along its longer side: codes 0..1, (rows, columns, 3).

        Of a panel, the whole picture that it is a part of.
        """
        if self.part is not None:
            return self.part.codes
        return small(self.pixels, threads=1 if self.compression == "none" else thread_count())

    @checked_call
    def rows(self, top: int, bottom: int) -> NDArray[np.uint16]:
        """Rows from `top` up to, not including, `bottom`, as a new (rows, width, 3) array.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.read("edit.tif").rows(8, 16).shape
        (8, 96, 3)
        """
        if not 0 <= top < bottom <= self.height:
            raise ParameterError("rows", (top, bottom), f"must lie within 0 to {self.height}")
        out = np.empty((bottom - top, self.width, 3), np.uint16)
        self.pixels.read(top, out)
        return out

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]:
        if copy is False:
            raise ValueError("a photograph is read into a new array; it cannot be shared")
        whole = read_all(self.pixels)
        return whole if dtype is None else whole.astype(dtype, copy=False)

    def _repr_png_(self) -> bytes:
        return thumbnail(self.pixels, self.profile)

    def write(
        self,
        path: AnyFile,
        *,
        overwrite: bool = False,
        compress: str | None = None,
        threads: int | None = None,
        progress: Callable[[int], None] | None = None,
    ) -> Written:
        """Write as a 16-bit TIFF: RGB, or grey where the pixels say that they are.

        Parameters
        ----------
        path : str, bytes, path, file object or fsspec.core.OpenFile
            Must end in .tif or .tiff; its folder must exist. Text with ``://`` in it is a place for fsspec. An open
            file gets the picture from its position on. Both get it from a temporary file once it is complete, in one
            go: whole or not at all as far as the store shows uploads so, and an open file can be cut again.
        overwrite : bool
            Whether an existing file may be replaced; never the input itself.
        compress : {"none", "lzw", "deflate", "zstd"}, optional
            As the source is stored where not given. All but none with the horizontal predictor.
        threads : int, optional
            As many as processors where not given. The bytes do not depend on it.
        progress : callable, optional
            Called with the number of rows done so far, one call at a time, from any thread.

        Returns
        -------
        Written
            What was written.

        Raises
        ------
        InputError
            If the source turns out to be damaged or transparent.
        OutputError
            If nothing can or may be written there.
        OutsideError
            If disk or memory fail.
        ParameterError
            If `compress` is none of those.

        In every case nothing is left behind, and what was there before is unchanged.

        Examples
        --------
        >>> import printprep as pp
        >>> written = pp.read("edit.tif").write("copy.tif")
        >>> pp.read("copy.tif").profile == pp.read("edit.tif").profile
        True
        """
        return write(self, path, overwrite=overwrite, compress=compress, threads=threads, progress=progress)


def carried(image: object) -> bytes | None:
    """The ICC profile that a Pillow image carries, where it does (``Image.info``)."""
    info = getattr(image, "info", None)
    found = info.get("icc_profile") if isinstance(info, dict) else None
    return found if isinstance(found, bytes) and found else None


def _sixteen(array: NDArray[Any]) -> NDArray[np.uint16]:
    if array.dtype == np.uint16:
        return np.ascontiguousarray(array)
    if array.dtype == np.uint8:
        return array.astype(np.uint16) * np.uint16(257)
    rounded: NDArray[np.uint16] = np.rint(array * np.float64(65535)).astype(np.uint16)
    return rounded
