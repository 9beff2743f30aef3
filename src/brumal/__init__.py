"""brumal: a season planner for people who breed ball (royal) pythons."""

__version__ = "0.1.0"
