"""Results in, drawings out: pure functions, their titles state the finding."""
