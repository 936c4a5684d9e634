"""The command line: a verb calls a service and prints what it answers."""
