"""The customer's page: one self-contained HTML file that carries its job."""

from curves.report.carried import read_report
from curves.report.page import report, write
from curves.report.results import Results, results
from curves.report.wish import PackStudy, WeakeningStudy, Wish

__all__ = [
    "PackStudy",
    "Results",
    "WeakeningStudy",
    "Wish",
    "read_report",
    "report",
    "results",
    "write",
]
