"""Every document and answer as blocks, a file for each kind."""
