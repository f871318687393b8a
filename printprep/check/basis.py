"""What stands behind a paper's values, and how to get better ones."""

from __future__ import annotations

from printprep.conditions.paper import Paper


def is_typical(paper: Paper) -> bool:
    """Whether only typical values stand behind a paper: no profile, no measurement of this very paper."""
    return paper.kind == "eight patches" and "typical" in paper.source.lower()


def basis(paper: Paper) -> str:
    """What the paper was built from, in a word or two: "ICC profile", "measured", "typical values", "own patches"."""
    if paper.kind == "profile":
        return "ICC profile"
    if paper.kind == "measurement":
        return "measured"
    return "typical values" if is_typical(paper) else "own patches"


def caution(paper: Paper, name: str) -> str | None:
    """One line to warn with where only typical values stand behind a paper; None where more does.

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
    if not is_typical(paper):
        return None
    return (
        f"{name!r}: warning: only typical values stand behind this paper; name the paper maker's own ICC profile or a "
        "measured chart in its place, or print a small sheet first"
    )
