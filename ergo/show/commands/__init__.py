"""The commands that load more than a scenario needs, a file each: each adds itself to the command line."""
