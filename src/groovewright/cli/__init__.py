"""The command line: one file a command, each imported only when it is called."""
