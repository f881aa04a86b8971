"""What faults mean: frames, areas, verdicts; every fault, pairs, comparisons, one script."""
