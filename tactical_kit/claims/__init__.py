"""Claims: what is said about a match, counted over all instances, with interval, verdict and counterexamples."""

from tactical_kit.claims.conditions import Condition, matching
from tactical_kit.claims.interval import Interval, newcombe_interval, wilson_interval
from tactical_kit.claims.shares import Claim, claim
from tactical_kit.claims.sheet import ClaimSheet, ClaimSheetError, ClaimSpec, read_claim_sheet
from tactical_kit.claims.sheet_file import add_to_claim_sheet
from tactical_kit.claims.verdict import Verdict
from tactical_kit.claims.words import SHARE_WORDS, ShareWord

__all__ = [
    "SHARE_WORDS",
    "Claim",
    "ClaimSheet",
    "ClaimSheetError",
    "ClaimSpec",
    "Condition",
    "Interval",
    "ShareWord",
    "Verdict",
    "add_to_claim_sheet",
    "claim",
    "matching",
    "newcombe_interval",
    "read_claim_sheet",
    "wilson_interval",
]
