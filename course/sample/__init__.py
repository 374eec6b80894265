"""The demo centre: the files of `demo_students/`, taken in through the same actions that a person's acts go through."""

from course.sample.loading import Loaded, load

__all__ = ["Loaded", "load"]
