"""What is recorded: attempts, plans, students and recitals, as values all rooms above share."""
