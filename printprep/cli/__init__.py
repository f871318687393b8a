"""The command line: one file per command, each a thin call of the library."""
