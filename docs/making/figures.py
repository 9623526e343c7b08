"""The figures of the pages that explain: `python docs/making/figures.py` writes them into docs.

What they show is computed by the library, with the numbers that the pages name; nothing in them is measured.
"""

import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from geoqa.kernels.judging.verdict import judge
from geoqa.kernels.precision.budget import tilted_u
from geoqa.model.signs import SIGNS

DOCS = Path(__file__).resolve().parents[1]
STYLE = {
    "svg.fonttype": "none",
    "svg.hashsalt": "geoqa",
    "font.size": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
}
VERDICTS = ("NO_DATA", "IN", "UNDECIDED", "OUT")
"""By the codes of the kernel."""

GREY = "#6b7280"
RULE = "#9ca3af"


def verdict() -> Figure:
    """Six numbers against one limit: what each may truly be, and what is said of it."""
    limit, u = 0.10, np.array([0.02, 0.02, 0.02, 0.02, 0.05, 0.02])
    deviation = np.array([0.03, 0.08, 0.12, 0.16, 0.03, -0.15])
    found = judge(deviation, lower=-limit, upper=limit, u=u)
    figure = Figure(figsize=(7, 3.1), layout="constrained")
    axes = figure.subplots()
    axes.axvspan(-limit, limit, color="#e5e7eb", label="allowed")
    axes.axvline(0, color=RULE, linewidth=0.8)
    for row, (number, spread, code) in enumerate(zip(deviation, u, found.verdict, strict=True)):
        name = VERDICTS[code]
        colour = SIGNS[name].colour
        axes.plot([number - 1.96 * spread, number + 1.96 * spread], [row, row], color=colour, linewidth=2)
        axes.plot(number, row, marker="o", color=colour)
        axes.annotate(f"{number:+.2f} ± {1.96 * spread:.2f}: {name}", (0.265, row), va="center", annotation_clip=False)
    axes.set(
        xlim=(-0.26, 0.26), ylim=(len(u) - 0.5, -0.5), yticks=[], xlabel="measured minus design, ft; allowed ±0.10"
    )
    axes.spines["left"].set_visible(False)
    return figure


def several_shots() -> Figure:
    """What more shots of one place are worth: in one session, and in sessions of their own."""
    shots = np.arange(1, 9)
    random, common = 0.02, 0.02
    figure = Figure(figsize=(7, 2.8), layout="constrained")
    axes = figure.subplots()
    one_session = np.sqrt(random**2 / shots + common**2)
    own_sessions = np.sqrt((random**2 + common**2) / shots)
    axes.plot(shots, one_session, marker="o", color="#1d4ed8", label="in one session")
    axes.plot(shots, own_sessions, marker="s", color="#b45309", label="in sessions of their own, 4 h apart")
    axes.axhline(common, color=GREY, linestyle="--", linewidth=0.9)
    axes.annotate("what the session shares", (8, common), xytext=(0, -11), textcoords="offset points", ha="right")
    axes.set(xlabel="shots of one place", ylabel="u of their mean, ft", ylim=(0, 0.03))
    axes.legend(frameon=False, loc="lower left")
    return figure


def leaning() -> Figure:
    """What a leaning rod adds to u, in plan and in elevation."""
    tilt = np.arange(0, 31)
    figure = Figure(figsize=(7, 2.8), layout="constrained")
    axes = figure.subplots()
    along, square, up = tilted_u(tilt, rod=6.562, u_heading=1.0, u_angle=0.3, plumb_h=0.0, plumb_v=0.0)
    axes.plot(tilt, np.maximum(along, square), color="#1d4ed8", label="in plan")
    axes.plot(tilt, up, color="#b45309", label="in elevation")
    axes.set(
        xlabel="lean, degrees (2 m rod; heading good to 1°, tilt angle to 0.3°)",
        ylabel="added to u, ft",
        ylim=(0, 0.07),
    )
    axes.legend(frameon=False)
    return figure


MARKS = np.array([[0, 0], [320, 120], [930, 20], [1300, 160], [1750, 110], [2300, 0]], float)
SCATTER = np.array([[2, -1], [-1, 2], [1, 1], [-2, 0], [0, -2], [1, 2]], float) / 100


def blunders() -> Figure:
    """Check shots on six marks: where each lies beside its mark, for six blunders."""
    off = np.zeros_like(MARKS)
    shift = off + np.array([-4.45, -0.9])
    block, one, other_name = off.copy(), off.copy(), off.copy()
    block[2:4] = [2.6, -1.7]
    one[4] = [2.4, 1.0]
    other_name[1] = [3.2, -4.0]
    turned = (MARKS - MARKS.mean(axis=0)) @ np.array([[0, 1], [-1, 0]]) * 1.4e-3
    panels = (
        ("nothing: scatter alone", off, "nothing"),
        ("another foot, or a global frame:\nall alike, day after day", shift, "every shot of the file"),
        ("a bad initialization:\nsome in a row, alike", block, "until the next initialization"),
        ("a mark that moved:\none, in every session", one, "the mark, not the shots"),
        ("a check under another name:\none, and far", other_name, "this shot alone"),
        ("a turned calibration:\ngrows with the distance", turned, "every shot of the job"),
    )
    figure = Figure(figsize=(7.4, 4.4), layout="constrained")
    for axes, (title, shown, whom) in zip(figure.subplots(2, 3).flat, panels, strict=True):
        arrows = shown + SCATTER * 3
        axes.plot(*MARKS.T, marker="+", linestyle="none", color=GREY)
        axes.quiver(*MARKS.T, *arrows.T, color="#b91c1c", angles="xy", scale_units="xy", scale=0.009, width=0.012)
        axes.set_title(title, fontsize=8.5)
        axes.set(xlim=(-700, 2700), ylim=(-700, 700), xticks=[], yticks=[], xlabel=f"acts on: {whom}")
        for spine in axes.spines.values():
            spine.set_color("#e5e7eb")
            spine.set_visible(True)
    return figure


FIGURES = {
    "figure_verdict": verdict,
    "figure_shots": several_shots,
    "figure_lean": leaning,
    "figure_blunders": blunders,
}


def write(folder: Path) -> list[Path]:
    """Write every figure; the same versions give the same bytes."""
    written = []
    with mpl.rc_context(STYLE):
        for name, draw in FIGURES.items():
            path = folder / f"{name}.svg"
            draw().savefig(path, metadata={"Date": None}, facecolor="white")
            written.append(path)
    return written


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS)
