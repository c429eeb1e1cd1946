"""Every paper of a job by its name in the address, and who may have it."""

from collections.abc import Callable
from dataclasses import dataclass

from estimates.papers.account import render_account
from estimates.papers.change import render_change
from estimates.papers.estimate import render_estimate
from estimates.papers.warranty import render_warranty
from estimates.papers.work_sheet import render_work_sheet
from jobs.papers import render_condition_report

__all__ = ["PAPERS", "Paper", "render_change"]


@dataclass(frozen=True)
class Paper:
    """A paper: render(job, now=...) gives the PDF. Managers have them all."""

    render: Callable[..., bytes]
    is_for_bay: bool = False  # technicians have it too
    is_for_owner: bool = False


PAPERS = {
    "estimate": Paper(render_estimate, is_for_owner=True),
    "work-sheet": Paper(render_work_sheet, is_for_bay=True),
    "condition-report": Paper(render_condition_report, is_for_bay=True),
    "account": Paper(render_account, is_for_owner=True),
    "warranty": Paper(render_warranty, is_for_owner=True),
}
