"""The plan of the next orders: from a pool's needs of coming months to the cheapest orders that meet them.

curves: costs that are linear in pieces over whole numbers of credits. setting: what a plan rests on. feasible: whether
any plan keeps within the limits, and which limit fails first. orders: the cheapest plan. outlook: the plan with what
explains it: what waiting would cost, and what changes if the needs are others. alone: what each member would pay
without the others.
"""

from pool_api.domain.planning.alone import Part, PlanShare, beside_alone, parts_of
from pool_api.domain.planning.orders import OrderPlan, PlannedMonth, best_plan
from pool_api.domain.planning.outlook import Outlook, Unmet, Waiting, outlook
from pool_api.domain.planning.setting import MOST_MONTHS, Opening, Setting

__all__ = [
    "MOST_MONTHS",
    "Opening",
    "OrderPlan",
    "Outlook",
    "Part",
    "PlanShare",
    "PlannedMonth",
    "Setting",
    "Unmet",
    "Waiting",
    "beside_alone",
    "best_plan",
    "outlook",
    "parts_of",
]
