"""Misheard words read back, where their surroundings or the owner call for it."""
