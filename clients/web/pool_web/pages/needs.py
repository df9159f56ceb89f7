"""Needs: what coming months take by forecast or by hand, for how many days credits are enough, and who runs short."""

from datetime import date

from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.needs import ComingNeeds, Need, NeedVersion
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.pages.acting import acted_for
from pool_web.visit import Visit, form, listed, page, to, together

_MONTHS = 4
"""As many as a desk has room for."""
_MOST_REASON = 200
_MOVED = "Somebody has said otherwise since you looked. This is how it stands now."


async def cover_of(visit: Visit) -> ComingNeeds | None:
    """Give how long credits last, None where that can't be said."""
    try:
        return await visit.allowed(visit.book.needs(months=1))
    except (Refused, Misused, NotThere):
        return None


async def overview(visit: Visit) -> Response:
    """Show what coming months need, and how long what is at hand lasts."""
    found, members = await together(visit.book.needs(months=_MONTHS), acted_for(visit))
    codes = {each.code for each in members}
    return visit.show("needs.html", found=found, codes=codes, done=visit.query.get("done", ""))


async def one(visit: Visit) -> Response:
    """Show a member's need of a month, with a form to state it."""
    return await _shown(visit)


async def state(visit: Visit) -> Response:
    """State a need by hand, or let the forecast count again."""
    filled = await visit.filled_in()
    member, month = visit.place("member"), visit.place("month")
    quantity, reason = None, ""
    withdrawing = filled.step == "withdraw"
    if not withdrawing:
        quantity, reason = filled.quantity("quantity", least=0), filled.text("reason", most=_MOST_REASON)
    if filled.problems:
        return await _shown(visit, filled, status=422)
    try:
        if quantity is None:
            await visit.book.withdraw_need(member=member, month=month, tag=filled["tag"])
        else:
            await visit.book.put_need(quantity, member=member, month=month, reason=reason, tag=filled["tag"] or None)
    except Stale as refusal:
        return await _shown(visit, filled, refusal, _MOVED)
    except (Refused, Misused) as refusal:
        return await _shown(visit, filled, refusal)
    return to(f"{visit.home}/buying/needs", done="withdrawn" if withdrawing else "stated")


async def _shown(
    visit: Visit, filled: Form | None = None, refusal: PoolError | None = None, sentence: str = "", *, status: int = 200
) -> Response:
    member, month = visit.place("member"), visit.place("month")
    (there, tag), forecast, versions, members = await together(
        _there(visit, member, month), _forecast(visit, member, month), _versions(visit, member, month), acted_for(visit)
    )
    said = {"quantity": str(there.quantity), "reason": there.reason} if there else {}
    return visit.show(
        "need.html",
        status=(refusal.status or 409) if refusal else status,
        member=member,
        month=month,
        there=there,
        tag=tag,
        forecast=forecast,
        versions=versions,
        may=member in {each.code for each in members},
        form=filled or visit.form(said),
        refusal=sentence or (refusal.sentence if refusal else ""),
    )


async def _there(visit: Visit, member: str, month: str) -> tuple[Need | None, str]:
    try:
        found = await visit.book.need(member=member, month=month)
    except NotThere:
        return None, ""
    return found.value, found.tag


async def _versions(visit: Visit, member: str, month: str) -> list[NeedVersion]:
    """Give all that was ever said of a need."""
    try:
        return await listed(visit.book.need_versions(member=member, month=month))
    except NotThere:
        return []


async def _forecast(visit: Visit, member: str, month: str) -> str:
    """Give what is forecast of a month, nothing where it isn't among the coming ones."""
    ahead = (date.fromisoformat(f"{month}-01").year - visit.today.year) * 12 + int(month[5:]) - visit.today.month
    if not 0 <= ahead < 36:
        return ""
    found = await visit.book.needs(months=ahead + 1, member=member)
    months = [each for of in found.members if of.member == member for each in of.months if each.month == month]
    return next((f"{each.forecast:.0f}" for each in months if each.forecast is not None), "")


ROUTES = (
    page("/buying/needs", overview),
    form("/buying/needs/{member}/{month:month}", one, state),
)
