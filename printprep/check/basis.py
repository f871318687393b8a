"""What stands behind a paper's values, and how to get better ones."""

from __future__ import annotations

from collections.abc import Mapping

from printprep.conditions.paper import Paper


def basis(paper: Paper) -> str:
    """What the paper was built from, in a word or two: "ICC profile", "measured", "typical values", "own patches"."""
    if paper.kind == "profile":
        return "ICC profile"
    if paper.kind == "measurement":
        return "measured"
    return "typical values" if paper.typical else "own patches"


def typical_values(papers: int = 1) -> str:
    """What is said of papers behind which only typical values stand, and what to do."""
    these, its = ("this paper", "its") if papers == 1 else ("these papers", "their")
    return (
        f"only typical values stand behind {these}; name the paper maker's own ICC profile or a measured chart in "
        f"{its} place, or print a small sheet first"
    )


def cautions(papers: Mapping[str, Paper]) -> list[str]:
    """Lines to warn with of papers, by what users call them, that hold no colour or rest on typical values alone.

    In the form of all messages, ``name: warning: what; what to do``; one line for all papers of typical values.
    """
    grey = [
        f"{name!r}: warning: this paper holds greys alone, so colours print grey; name one that holds colours"
        for name, paper in papers.items()
        if paper.solid.volume == 0
    ]
    typical = [repr(name) for name, paper in papers.items() if paper.typical and paper.solid.volume > 0]
    if not typical:
        return grey
    return [*grey, f"{', '.join(typical)}: warning: {typical_values(len(typical))}"]
