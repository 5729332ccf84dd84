"""The reliability diagram as a picture."""

from __future__ import annotations

from io import StringIO

from diagnose.errors import CallError
from diagnose.learning.scores import Tallied


def reliability_svg(scores: Tallied, title: str) -> str:
    """What was called against what came true, with twice the standard error, and how many forecasts stand
    where. Raises CallError where matplotlib is missing."""
    try:
        import matplotlib
    except ModuleNotFoundError as error:
        raise CallError("Pictures need matplotlib: pip install 'diesel-diagnose[plots]'") from error
    from matplotlib.figure import Figure  # no window system, no global state

    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "diagnose", "font.size": 10}):
        figure = Figure(figsize=(6, 6.5), layout="constrained")
        above, below = figure.subplots(2, 1, height_ratios=[4, 1], sharex=True)
        bins = scores.bins
        called = [one.called for one in bins]
        above.plot([0, 1], [0, 1], color="0.6", linewidth=1, label="as called")
        above.errorbar(
            called,
            [one.came for one in bins],
            yerr=[min(2 * one.spread, 1.0) for one in bins],
            fmt="o",
            color="black",
            capsize=3,
            label="came true (± 2 standard errors)",
        )
        above.set(title=title, ylabel="came true", xlim=(-0.03, 1.03), ylim=(-0.03, 1.03))
        above.legend(loc="upper left", frameon=False)
        below.bar(called, [one.count for one in bins], width=0.02, color="0.4")
        below.set(xlabel="called", ylabel="how many", yscale="log")
        out = StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    return out.getvalue()
