"""Read-back: what was understood is said to whoever spoke, while the work is still open."""
