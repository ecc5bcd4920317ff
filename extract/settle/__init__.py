"""What holds in the order of telling: corrections, things restated, limits, hesitations."""
