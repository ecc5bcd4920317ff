"""What the words and pictures seem to say: words in, drafts out. Pure; opens no file but its own data."""
