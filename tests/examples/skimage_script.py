"""Denoise a photograph with scikit-image, and prepare it for a paper and a room: a script.

    python skimage_script.py edit.tif print.tif
"""

import sys

import numpy as np
from skimage import restoration
from skimage.util import img_as_float32

import printprep as pp


def main(edit: str, out: str) -> None:
    photo = pp.read(edit)
    picture = img_as_float32(np.asarray(photo))  # (height, width, 3), 0 to 1, in the edit's own profile
    calm = restoration.denoise_tv_chambolle(picture, weight=0.02, channel_axis=-1)
    # Filters may leave 0..1 by a hair: clip=True takes such values, where they would be refused otherwise.
    edited = pp.Photo.from_array(
        calm, photo.profile, ppi=photo.resolution.ppi, metadata=photo.metadata, clip=True
    )
    pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room")
    written = pipe(edited).write(out)
    print(written)


if __name__ == "__main__":
    main(*sys.argv[1:])
