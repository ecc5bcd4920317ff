"""Several tellings to one draft: hearings, photo, meters, confidence, and how they are fused."""
