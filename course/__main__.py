"""`python -m course` is the same as `course`."""

from course.commands import main

if __name__ == "__main__":
    main()
