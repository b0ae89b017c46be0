"""From clean series to events: one module per question, all registered in `questions.py`.

Change points do the finding, biology does the judging. Each module has a memory (a small frozen struct), a gate where
it looks at every reading, and a judge that returns the next memory and tells events.
"""
