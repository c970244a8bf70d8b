"""One proposal of each kind on the fine grid of the invented site (4 million cells), against the full map in one run.

Prints the seconds of the full map, and for each kind those of making the site again with it, the ratio of the two and
the layers that came out differently. Run with `python tests/benchmarks/bench_appraise.py [cell in metres]`.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd

from habitat.appraisal import outcome_of
from habitat.proposal import proposal_of_features
from habitat.proposal_kinds import KINDS
from habitat.proposal_template import template_text
from habitat.site_map import map_site
from habitat.starter import write_invented_site
from layers.fault import ProposalError


def main(cell: float = 10.0) -> None:
    """Print the seconds of a full map, and of each kind of change beside it."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_invented_site(Path(folder) / "site", cell=cell)
        map_site(path, cell=cell)  # compiles the kernels
        start = time.perf_counter()
        before = map_site(path, cell=cell)
        whole = time.perf_counter() - start
        cells = before.layers["surface"].size
        print(f"full map of {cells:,} cells, files read and kernels warm: {whole:.1f} s", flush=True)
        for kind in KINDS:
            _one(kind, before, whole)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory: {peak:,.0f} MB")


def _one(kind: str, before, whole: float) -> None:
    """Seconds of the template of one kind, which is drawn in the middle of the site."""
    features = gpd.GeoDataFrame.from_features(json.loads(template_text(kind, before.inputs)), crs=4326)
    try:
        proposal = proposal_of_features(kind, features.drop(columns="_help"), before.inputs)
        start = time.perf_counter()
        outcome = outcome_of(before, [proposal], kind)
    except ProposalError as refusal:
        print(f"  {kind:18s} cannot be proposed: {refusal.faults[0].found}", flush=True)
        return
    taken = time.perf_counter() - start
    changed = ", ".join(outcome.changed_layers) or "none"
    print(f"  {kind:18s} {taken:7.2f} s  {taken / whole:6.3f} x the full map; differ: {changed}", flush=True)


if __name__ == "__main__":
    main(*(float(word) for word in sys.argv[1:]))
