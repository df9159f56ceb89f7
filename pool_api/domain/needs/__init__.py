"""What members will need: from what they used to what coming months need, and how long what is at hand lasts.

history: uses by month. forecast: the month's season and each member's level, and so what a month is expected to need.
measuring: how far forecasts were off in months held back from them. cover: days that credits last at a service level.
coming: all of it together with what people stated by hand. What orders follow from it is planned in domain/planning.
"""

from pool_api.domain.needs.coming import Coming, Cover, Doubt, MemberComing, MonthNeed, Notice, Now, Shop, coming
from pool_api.domain.needs.forecast import Forecast, Season, forecast
from pool_api.domain.needs.history import History, history_of
from pool_api.domain.needs.measuring import Accuracy, Measured, measured

__all__ = [
    "Accuracy",
    "Coming",
    "Cover",
    "Doubt",
    "Forecast",
    "History",
    "Measured",
    "MemberComing",
    "MonthNeed",
    "Notice",
    "Now",
    "Season",
    "Shop",
    "coming",
    "forecast",
    "history_of",
    "measured",
]
