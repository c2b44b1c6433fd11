"""The report of a header in its three forms: report.json, report.md and the summary on the terminal.

All three show the same records (records/, and kinds/ for parts) of one Result; report.json is a dump of them. The
summary is in `headergen.outputs.report.terminal`, which alone imports rich.
"""

from headergen.outputs.report.data import report_data, write_report_json, write_reports
from headergen.outputs.report.markdown import report_markdown
from headergen.outputs.report.schema import report_schema

__all__ = ["report_data", "report_markdown", "report_schema", "write_report_json", "write_reports"]
