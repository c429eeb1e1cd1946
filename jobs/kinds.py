"""The kinds of journal entry that jobs writes."""

from jobs.journal import entry_kind

JOB_BOOKED = entry_kind("job_booked", "Coach booked in")
COACH_ARRIVED = entry_kind("coach_arrived", "Coach arrived")
COACH_MOVED = entry_kind("coach_moved", "Coach moved")
COACH_COLLECTED = entry_kind("coach_collected", "Coach collected")
DATE_PROMISED = entry_kind("date_promised", "Ready date promised")
FINDING_POSTED = entry_kind("finding_posted", "Finding posted")
PHOTOS_ADDED = entry_kind("photos_added", "Photos added")
OWNER_ASKED = entry_kind("owner_asked", "Owner asked to decide")
REQUEST_WITHDRAWN = entry_kind("request_withdrawn", "Request withdrawn")
OWNER_DECIDED = entry_kind("owner_decided", "Owner decided")
WORK_AGREED = entry_kind("work_agreed", "Work added to the scope")
OPERATION_STARTED = entry_kind("operation_started", "Operation started")
OPERATION_FINISHED = entry_kind("operation_finished", "Operation finished")
HOLD_POINT_PASSED = entry_kind("hold_point_passed", "Hold point passed")
HOLD_POINT_FAILED = entry_kind("hold_point_failed", "Hold point failed, work to be redone")
