"""Invented input, thousands of cases of it, held to laws: `python -m tests.fuzz --minutes 10`. See DEVELOPERS.md."""
