"""What the words and pictures seem to say: words in, drafts out. Pure."""
