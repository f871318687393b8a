"""A stack of pictures as an xarray: names, coordinates and attributes stay."""

import numpy as np
import xarray as xr

import printprep as pp


def prepare(pictures: xr.DataArray, pipe: pp.Pipeline, profile: str = "sRGB") -> xr.DataArray:
    """Prepare pictures with the dimensions y, x and band, in any order, beside any others."""
    return xr.apply_ufunc(
        pipe.apply,
        pictures,
        kwargs={"profile": profile},
        input_core_dims=[["y", "x", "band"]],  # the last three of what `apply` gets: each picture by itself
        output_core_dims=[["y", "x", "band"]],
        keep_attrs=True,
    ).transpose(*pictures.dims)


def example() -> xr.DataArray:
    """Two pictures, bands first, as satellites' and microscopes' files have them."""
    values = np.random.default_rng(0).random((2, 3, 40, 60), dtype=np.float32)
    return xr.DataArray(values, dims=("scene", "band", "y", "x"), coords={"scene": ["a", "b"]}, attrs={"by": "me"})
