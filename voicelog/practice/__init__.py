"""Practice without a patient: a simulated eye, a scripted examiner, and the lesson that joins them to the log."""
