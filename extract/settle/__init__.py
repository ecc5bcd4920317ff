"""What holds in the end: the order of telling, limits spoken beside a value, meters renamed."""
