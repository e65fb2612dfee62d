"""Figures without a browser or a page: each module returns one `Drawing` whose `alt` says what it shows.

A drawing is a list of simple shapes with colours by meaning. `plotly_spec` renders it for the page, `svg` for the
report, so that both show the same.
"""
