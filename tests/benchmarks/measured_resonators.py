"""The four measured resonators of NPL Report MAT 58 against its published results.

Run as ``python -m tests.benchmarks.measured_resonators FOLDER`` with the folder of the report's
open data files. Each file is fitted under the assumptions of the publication and once more
without telling anything about a line. fL is compared as the publication means it: the real part
of the pole. A difference is also given in standard uncertainties of the fit.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import numpy as np

from benchapp.capture import Response
from benchapp.fit.opinion import opinions
from benchapp.fit.response import fit_response
from benchapp.units import Estimate

TRUTH = Path(__file__).parents[1] / "truth" / "mat58.json"


def load(path, kind):
    """Read frequency in GHz, real and imaginary part; lines with % are comments."""
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    rows = [line.split()[:3] for line in lines if line.strip() and not line.startswith("%")]
    f, real, imag = np.array(rows, dtype=float).T
    return Response(frequency=f * 1e9, ratio=real + 1j * imag, kind=kind)


def held(assumed):
    """What the publication took as known."""
    units = {"through": "1", "delay": "s"}
    return {
        name: Estimate(name=name, value=value, u=None, unit=units[name])
        for name, value in assumed.items()
        if value is not None
    }


def report(entry, fit, title):
    """Print one comparison."""
    found = fit.estimates
    f0, QL, Q = (found.get(name) for name in ("f0", "QL", "Q"))
    damped = f0.value * math.sqrt(1 - 1 / (4 * QL.value**2))
    print(
        f"  {title}: fL {damped / 1e9:.9f} GHz (published {entry['fL'] / 1e9:.9g}, "
        f"relative {damped / entry['fL'] - 1:+.1e}, u {f0.u / f0.value:.0e})"
    )
    for name, estimate in (("QL", QL), ("Q", Q)):
        apart = (estimate.value - entry[name]) / estimate.u
        print(
            f"    {name} {estimate.value:.2f} u {estimate.u:.2f} (published {entry[name]}, "
            f"{estimate.value / entry[name] - 1:+.3%}, {apart:+.2f} u)"
        )
    print(
        f"    noise {fit.noise:.1e} of the largest ratio, describes {fit.describes}, "
        f"set aside {len(fit.set_aside)}; " + " ".join(r.name for r in fit.remarks)
    )


def main(folder):
    for entry in json.loads(TRUTH.read_text(encoding="utf-8"))["sets"]:
        capture = load(Path(folder) / entry["file"], entry["kind"])
        known = held(entry["assumed"])
        print(entry["file"], entry["kind"], f"{capture.frequency.size} points")
        fit = fit_response(capture, fix=known)
        report(entry, fit, "as published")
        for opinion in opinions(capture, fit):
            estimate = opinion.estimate
            print(
                f"      {opinion.method}: {estimate.name} {estimate.value:.10g} "
                f"u {estimate.u:.3g}, agrees {opinion.agrees}"
            )
        free = {name: value for name, value in known.items() if name == "through"}
        report(entry, fit_response(capture, fix=free), "line unknown")


if __name__ == "__main__":
    main(*sys.argv[1:])
