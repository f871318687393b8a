"""What a file may ask of us: every limit in one place, each with its reason."""

from __future__ import annotations

PIXELS = 10_000_000_000
"""Pixels in one picture: stitched gigapixels work, a header that lies does not get far."""

PAGES = 50
"""Directories visited in one file: enough for a picture with its reduced copies; ends long chains."""

DIRECTORY_ENTRIES = 500
"""Entries in one directory: real ones hold fewer than 100; more is rubbish read as a directory."""

PIECES = 4_000_000
"""Strips or tiles in one picture: 10,000 million pixels in the small tiles of 64 x 64 are 2.4 million."""

CHANNELS = 64
"""Channels of one picture, before it is refused for having any but three or four."""

METADATA_BYTES = 64 << 20
"""One metadata block or profile: the largest profiles and layered XMP packets stay well below it."""

PIECE_BYTES = 4 << 30
"""One compressed strip or tile, decoded: most codecs decode it whole, so it must fit into memory."""

LARGE_PIECE = 32 << 20
"""Strips or tiles larger than this are decoded one at a time, whatever the number of threads."""

ANNOUNCED_PIECE = 128 << 20
"""Strips or tiles larger than this need so much memory that it is said beforehand."""

CACHE_BYTES = 64 << 20
"""Decoded strips or tiles kept because the next band needs their other rows."""

CACHE_CEILING = 208 << 20
"""Most that this cache may grow to where two rows of tiles are larger; beyond it, decoded pieces go to disk."""

PANEL_BYTES = 16 << 20
"""One panel of columns read at a time where a picture is turned on its side."""

BAND_BYTES = 4 << 20
"""Pixels in one band of the writer: stays in the processor's cache, and keeps memory small."""

WIDER_BANDS = 3
"""How many times larger bands are where pixels depend on rows around them, which each band computes anew."""

STRIP_BYTES = 256 << 10
"""Pixels in one strip of the output: small enough for any viewer, large enough to compress well."""

FLUSH_BYTES = 16 << 20
"""Output handed to the disk at once, while more is computed: measured, 100 megapixels end up to 29 % sooner."""

CLASSIC_BYTES = (1 << 32) - 1
"""Largest classic TIFF: its offsets have 32 bits. Beyond it, BigTIFF."""

EXPANSION = {
    1: 1,
    5: 1400,
    8: 1032,
    32946: 1032,
    32773: 64,
    50000: 33_000,
}
"""Most bytes that one compressed byte can stand for, by TIFF compression code.

LZW: codes of 9 to 12 bits, each string one longer than the last; deflate: 258 bytes in two bits,
less the block's own; PackBits: 128 in two; zstd: a 128 KiB block in four. Beyond it the header
declares more than the data can hold.
"""
