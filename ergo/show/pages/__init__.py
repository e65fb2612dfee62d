"""The pages in a browser: one file a page, nothing computed here. `start.py` is what `ergo page` runs."""
