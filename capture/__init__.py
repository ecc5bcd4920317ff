"""What was observed: bytes, sound, pictures and time. Knows no field name and no database."""

from capture import cores as cores
