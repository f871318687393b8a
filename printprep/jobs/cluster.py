"""The workers of a Dask scheduler as an executor."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Iterator
from concurrent.futures import Executor

from printprep.errors import OutsideError, PrintprepError

_PATIENCE = 5.0
"""Seconds in which a scheduler must answer."""


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """An executor for `prepare_many` that runs on a cluster; the scheduler's address, such as ``tcp://192.0.2.5:8786``.

    Its workers need the same version of printprep, and must see the files under the same paths.
    """
    try:
        from distributed import Client
        from distributed.comm.addressing import parse_address
        from distributed.comm.registry import get_backend
    except ImportError:
        raise PrintprepError("a cluster needs an optional package", do="install printprep[cluster]") from None
    try:
        if not address.strip():
            raise ValueError
        get_backend(parse_address(address)[0])
    except (ValueError, TypeError):
        do = "give the scheduler's, such as tcp://HOST:8786"
        raise PrintprepError("is no address", where=repr(address), do=do) from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        client = Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError):
        do = "start one, or check the address"
        raise OutsideError("no scheduler answers there", where=repr(address), do=do) from None
    with client:
        yield client.get_executor(pure=False)
