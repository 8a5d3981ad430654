"""Claims: what is said about a match, counted over all instances, with interval, verdict and counterexamples."""

from tactical_kit.claims.interval import Interval, newcombe_interval, wilson_interval
from tactical_kit.claims.shares import Claim, claim
from tactical_kit.claims.verdict import Verdict
from tactical_kit.claims.words import SHARE_WORDS, ShareWord

__all__ = [
    "SHARE_WORDS",
    "Claim",
    "Interval",
    "ShareWord",
    "Verdict",
    "claim",
    "newcombe_interval",
    "wilson_interval",
]
