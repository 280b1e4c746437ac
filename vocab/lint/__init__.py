"""What is doubtful in a vocabulary."""
