"""Heard words to their parts, and the lists of words that reading leans on."""
