"""What stands behind a paper's values, and how to get better ones."""

from __future__ import annotations

from printprep.conditions.paper import Paper


def basis(paper: Paper) -> str:
    """What the paper was built from, in a word or two: "ICC profile", "measured", "typical values", "own patches"."""
    if paper.kind == "profile":
        return "ICC profile"
    if paper.kind == "measurement":
        return "measured"
    return "typical values" if paper.typical else "own patches"


def caution(paper: Paper, name: str) -> str | None:
    """One line to warn with where only typical values stand behind a paper, or it holds no colour; None else.

    Parameters
    ----------
    paper : Paper
        The paper.
    name : str
        What the user calls it.

    Returns
    -------
    str or None
        In the form of all messages: ``name: warning: what; what to do``.
    """
    if paper.solid.volume == 0:
        return f"{name!r}: warning: this paper holds greys alone, so colours print grey; name one that holds colours"
    if not paper.typical:
        return None
    return (
        f"{name!r}: warning: only typical values stand behind this paper; name the paper maker's own ICC profile or a "
        "measured chart in its place, or print a small sheet first"
    )
