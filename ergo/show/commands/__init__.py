"""The commands that have a file of their own: each adds itself to the command line."""
