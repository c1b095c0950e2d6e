"""The router, in small replaceable parts."""

from boardgen.layout.route.bounds import bound_l1, bound_l2, tree_length
from boardgen.layout.route.router import RouteResult, RouteStats, Unrouted, route, route_report
from boardgen.layout.route.rules import NetRule, RoutingRules, rules_for
from boardgen.layout.route.warm import needs_compiling, warm

__all__ = [
    "NetRule",
    "RouteResult",
    "RouteStats",
    "RoutingRules",
    "Unrouted",
    "bound_l1",
    "bound_l2",
    "needs_compiling",
    "route",
    "route_report",
    "rules_for",
    "tree_length",
    "warm",
]
