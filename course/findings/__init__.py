"""What does not fit in a course's record: each rule is one function from the ground to findings, and one test."""
