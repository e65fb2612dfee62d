"""Published limits as one registry, the policies that say which of them decide, and the verdict words."""
