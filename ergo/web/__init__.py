"""The pages, the only place with streamlit."""

import ergo.cli  # noqa: F401 - the same settings for what is loaded later
