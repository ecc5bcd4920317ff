"""A note as it is told: outline, sentences and topics, kinds of statement."""
