"""What tests of several folders share: a browser, and one target that is written once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.support.browser import Browser

if TYPE_CHECKING:
    from printprep.targets.target import Target


@pytest.fixture(autouse=True, scope="session")
def own_log(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A log of prints that is not the user's."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_LOG", str(tmp_path_factory.mktemp("log") / "log.sqlite3"))
        yield


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser; the test is skipped where none is installed."""
    made = Browser(tmp_path_factory.mktemp("browser"))
    yield made
    made.close()


@pytest.fixture(scope="session")
def written_target(tmp_path_factory: pytest.TempPathFactory) -> Target:
    """A target on A6, with its values and its page."""
    from printprep.targets.target import target

    return target(tmp_path_factory.mktemp("target") / "target.tif", sheet="A6", ppi=360, paper="cotton-rag")
