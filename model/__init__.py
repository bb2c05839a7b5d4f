"""The metallurgy of pack carburizing: plain functions of numbers and small frozen values.

Nothing here knows of the web, a database, a clock, or a random state it was not given.
"""

MODEL_VERSION = "19"
