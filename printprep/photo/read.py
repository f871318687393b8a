"""Opening a photograph: headers only, everything that cannot be printed right refused at once."""

from __future__ import annotations

import os
from pathlib import Path

from printprep.colour.profile import Profile
from printprep.errors import InputError
from printprep.events import log
from printprep.files import limits
from printprep.files.names import AnyPath
from printprep.files.streams import AnyFile, StreamFile, opened
from printprep.parameters import checked_call
from printprep.photo.photo import Photo
from printprep.photo.tiff.codecs import ENCODERS
from printprep.photo.tiff.collect import collect, resolution
from printprep.photo.tiff.directory import Container, Damaged
from printprep.photo.tiff.samples import source
from printprep.photo.tiff.storage import COMPRESSIONS, Reader, Storage, main_picture, storage

_PROFILE = 34675


@checked_call
def read(path: AnyFile, *, assume: AnyPath | Profile | None = None, max_pixels: int = limits.PIXELS) -> Photo:
    """Open a TIFF photograph.

    Parameters
    ----------
    path : str, bytes, path, file object or fsspec.core.OpenFile
        The file. Text with ``://`` in it, such as ``s3://bucket/edit.tif``, is opened by fsspec (the extra `fsspec`):
        hand in a `pathlib.Path` where names come from others. A file object must be open for reading bytes, at any
        place, and stay open until the picture has been written.
    assume : str, path, bytes or Profile, optional
        The profile of a file that has none: a well-known name, a path, or the profile itself.
    max_pixels : int
        Refuse pictures with more.

    Returns
    -------
    Photo
        16-bit RGB whatever the file holds; its pixels are read when asked for, and only then is it
        known whether they can all be decoded.

    Raises
    ------
    InputError
        If the file is no picture that can be printed right.
    UnknownName
        If `assume` is no known profile.
    OutsideError
        If the file may not be read.
    ParameterError
        If `path` is none of these.

    Examples
    --------
    >>> import printprep as pp
    >>> photo = pp.read("edit.tif")
    >>> photo.shape, photo.profile.description
    ((64, 96, 3), 'opRGB')
    """
    file = opened(path)
    tags = main_picture(Container(file))
    found = storage(tags, max_pixels)
    said: list[str] = []
    profile = _profile(tags, found, assume, said)
    if found.planes[0].dtype.itemsize == 1:
        said.append("has 8 bits a channel; it is written with 16, but lifted shadows may show bands")
    if found.alpha:
        said.append("has an alpha channel; it is left out, and refused if any part of it is transparent")
    if found.orientation == 0:
        said.append("has an invalid orientation; it is taken as upright")
    elif found.orientation > 1:
        said.append("is stored turned or mirrored; its pixels are turned upright")
    pixels = source(file, found, profile, said)
    metadata = collect(tags, said)
    size = resolution(tags, said)
    if found.grey:
        profile = Profile.named("opRGB")
    stored = COMPRESSIONS[found.planes[0].compression]
    kept = stored if stored == "none" or stored in ENCODERS else "deflate"
    if kept != stored:
        said.append(f"is stored with {stored}; where nothing else is asked for, {kept} is written")
    log.info("read %s: %d x %d pixels, profile %s", file.shown, pixels.width, pixels.height, profile.description)
    for sentence in said:
        log.info("%s %s", file.shown, sentence)
    stream = file if isinstance(file, StreamFile) else None
    own = stream.on_disk if stream else Path(os.fsdecode(path))  # type: ignore[arg-type]
    return Photo(pixels, profile, size, metadata, own, tuple(said), kept, store=stream)


def _profile(tags: Reader, found: Storage, assume: AnyPath | Profile | None, said: list[str]) -> Profile:
    slot = tags.directory.slots.get(_PROFILE)
    if slot is None:
        if assume is None:
            raise tags.refuse(
                "has no ICC profile, so its colours are unknown",
                "export it with the profile embedded, or state it with {way}",
                way="assume=PROFILE",
            )
        profile = Profile.load(assume)
        said.append(f"has no ICC profile; {profile.description} is assumed")
        where = "the assumed profile"
    else:
        try:
            data = tags.container.bytes_of(slot)
        except Damaged:
            raise tags.refuse("its ICC profile is damaged", "embed it again") from None
        profile = Profile.from_bytes(data, tags.shown)
        where = "its ICC profile"
    wanted = "GRAY" if found.grey else "RGB"
    if profile.model != wanted:
        kinds = {"GRAY": "grey", "RGB": "RGB", "CMYK": "CMYK"}
        raise InputError(
            f"holds {kinds[wanted]} values, but {where} is for {kinds[profile.model]}",
            where=tags.shown,
            do="embed the profile that it was edited in",
        )
    if found.grey:
        said.append(f"is grey, in {profile.description}: prepared in opRGB, and written grey where it stays so")
    return profile
