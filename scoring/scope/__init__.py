"""What should be done about a lateral: methods, quantities, prices, payers, and the cheapest sound plan."""

from scoring.scope.default_rates import DEFAULT_RATE_BOOK
from scoring.scope.document import scope_document
from scoring.scope.plan import plan
from scoring.scope.rate_book import RateBook, RateBookInvalid, load_rate_book
from scoring.scope.rule_set import DEFAULT_RULE_SET, RuleSet, RuleSetInvalid, load_rule_set
from scoring.scope.types import Scope

__all__ = [
    "DEFAULT_RATE_BOOK",
    "DEFAULT_RULE_SET",
    "RateBook",
    "RateBookInvalid",
    "RuleSet",
    "RuleSetInvalid",
    "Scope",
    "load_rate_book",
    "load_rule_set",
    "plan",
    "scope_document",
]
