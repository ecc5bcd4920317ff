"""The steps, oldest first. A step that was released is never edited."""
