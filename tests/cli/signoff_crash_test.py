"""A power cut at any point of 'sign': what can then lie on disk, and whether it is sound.

Usage: signoff_crash_test.py DAYWRIGHT DEMO [TEST...]
"""
import sys, unittest

from faults import PowerCutTrials
from signoff_test import SigningTrials


class PowerCuts(PowerCutTrials, SigningTrials):
    ADDED = b"SHA-256 [0-9a-f]{64}"
    ALREADY = "already signed"


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1] + sys.argv[3:])
