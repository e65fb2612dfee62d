"""The commands, a file each: each adds itself to the command line."""
