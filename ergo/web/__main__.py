"""`python -m ergo.web` serves the page; what every page needs is loaded before the first reader comes."""

import sys
from pathlib import Path

import plotly.graph_objects  # noqa: F401
from streamlit import net_util
from streamlit.web import cli

import ergo.report.documents.case
import ergo.report.tables.case  # noqa: F401
from ergo.web import jobs

if __name__ == "__main__":
    # Asked by a page of another origin, the server would ask the internet for its own address before it refuses.
    net_util.get_external_ip = lambda: None
    jobs.start()
    sys.argv = ["streamlit", "run", str(Path(__file__).with_name("start.py")), *sys.argv[1:]]
    cli.main(prog_name="streamlit")
