"""The kinds of journal entry that updates writes."""

from jobs.journal import entry_kind

UPDATE_WRITTEN = entry_kind("update_written", "Message to the owner written")
UPDATE_SENT = entry_kind("update_sent", "Message handed over")
UPDATE_REFUSED = entry_kind("update_refused", "Message refused by the mail server")
LINKS_WITHDRAWN = entry_kind("links_withdrawn", "Owner's links withdrawn")
