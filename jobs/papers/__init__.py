"""The papers about findings, evidence and work, as PDF; those with prices are in estimates.papers."""

from jobs.papers.condition_report import render_condition_report
from jobs.papers.drying_record import render_drying_record
from jobs.papers.rendering import as_pdf, check_address, png_address

__all__ = [
    "as_pdf",
    "check_address",
    "png_address",
    "render_condition_report",
    "render_drying_record",
]
