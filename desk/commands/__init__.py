"""The commands, by what a person wants. Each file's `add_to` adds its own to the program."""
