"""What the command line does, one command a file."""
