"""What people and the clock can do to a job: the only code that changes state."""
