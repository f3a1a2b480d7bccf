"""The local page: a wall and its layer list, to sit at with the client. It translates; the library does the work."""
