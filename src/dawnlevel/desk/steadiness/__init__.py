"""Is it steady: a probe's log and sparse records, days, changes and their causes."""
