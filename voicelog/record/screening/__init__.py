"""Screening: a list of children, what the exams of each come to against limits by age, and that as a table."""
