"""Claims: what is said about a match, counted over all instances, with interval, verdict and counterexamples."""

from tactical_kit.claims.comparison import (
    Comparison,
    compare,
    compare_before_after,
    compare_halves,
    compare_score_states,
)
from tactical_kit.claims.conditions import Condition, matching
from tactical_kit.claims.interval import Interval, newcombe_interval, wilson_interval
from tactical_kit.claims.means import MeanComparison, compare_means
from tactical_kit.claims.rates import RateComparison, compare_rates
from tactical_kit.claims.resample import permutation_p, resampled_share
from tactical_kit.claims.shares import Claim, claim
from tactical_kit.claims.sheet import ClaimSheet, ClaimSheetError, ClaimSpec, read_claim_sheet
from tactical_kit.claims.sheet_file import add_to_claim_sheet
from tactical_kit.claims.sheet_result import CheckedClaim, ClaimsDoNotHold, SheetResult
from tactical_kit.claims.sheet_run import check_claim_sheet, run_claim_sheet
from tactical_kit.claims.splits import (
    Split,
    split_by_column,
    split_by_halves,
    split_by_labels,
    split_by_minute,
    split_by_phase,
    split_by_player,
    split_by_score,
    split_by_substitution,
)
from tactical_kit.claims.verdict import Verdict
from tactical_kit.claims.words import SHARE_WORDS, ShareWord

__all__ = [
    "SHARE_WORDS",
    "CheckedClaim",
    "Claim",
    "ClaimSheet",
    "ClaimSheetError",
    "ClaimSpec",
    "ClaimsDoNotHold",
    "Comparison",
    "Condition",
    "Interval",
    "MeanComparison",
    "RateComparison",
    "ShareWord",
    "SheetResult",
    "Split",
    "Verdict",
    "add_to_claim_sheet",
    "check_claim_sheet",
    "claim",
    "compare",
    "compare_before_after",
    "compare_halves",
    "compare_means",
    "compare_rates",
    "compare_score_states",
    "matching",
    "newcombe_interval",
    "permutation_p",
    "read_claim_sheet",
    "resampled_share",
    "run_claim_sheet",
    "split_by_column",
    "split_by_halves",
    "split_by_labels",
    "split_by_minute",
    "split_by_phase",
    "split_by_player",
    "split_by_score",
    "split_by_substitution",
    "wilson_interval",
]
