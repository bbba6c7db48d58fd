"""Ways to write a report for a person."""
