"""brumal: a season planner for people who breed ball (royal) pythons."""

import os

# Tables are small: threads of NumPy's BLAS cost more than they bring, and the last digit of a sum
# would hang on how many there are. NumPy reads this when it is loaded, which is yet to come.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
