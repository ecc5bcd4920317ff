"""What a named person confirmed. The only room with tables."""
