"""How the tables came to be, step by step, each in one transaction with the note that it ran."""
