import os

# As many tests run at once as there are cores: a solver that takes them all too is slower by far.
# Read as numpy loads, which nothing has done before a test's folder is.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
