"""Shop, coaches, jobs, findings, evidence, approvals, hold points and the journal."""
