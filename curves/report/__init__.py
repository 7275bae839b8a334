"""The customer's page: one self-contained HTML file that carries its job."""

from curves.report.carried import read_report
from curves.report.page import report
from curves.report.results import PackStudy, WeakeningStudy, Wish

__all__ = ["PackStudy", "WeakeningStudy", "Wish", "read_report", "report"]
