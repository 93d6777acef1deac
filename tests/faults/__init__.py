"""What breaks, and what holds: real processes are killed, starved and cut off while clients write.

`python -m tests.faults --full` runs every fault in its full size and prints a table; the tests here run the fast size.
"""
