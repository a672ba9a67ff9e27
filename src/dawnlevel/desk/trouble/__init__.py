"""Why it isn't working: complaints, causes and their evidence."""
