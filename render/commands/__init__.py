"""The commands, one module for each group; they only translate between words and the library."""
