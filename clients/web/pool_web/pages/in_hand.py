"""Differences in members' hands: a clerk finds what its shop is asked, and answers; the keeper sees what is out."""

from pool_client.errors import Misused, PoolError, Refused
from pool_client.models.mending import Answer
from pool_client.models.vendor import HandedDifference
from starlette.responses import Response

from pool_web import mends
from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, deed, listed, page, to, together

_MOST = 50


async def show(visit: Visit) -> Response:
    """Show the differences in hand."""
    return await _shown(visit)


async def answer(visit: Visit) -> Response:
    """Answer a difference."""
    filled = await visit.filled_in()
    said = filled.chosen("step", [each.value for each in Answer])
    word = filled.text("word", needed=said == Answer.OTHER, most=MOST_NOTE)
    key, month = filled["difference"], filled["month"]
    asked = next((each for each in await _in_hand(visit) if each.difference.key == key), None)
    mend = asked.difference.mend if asked else None
    fields = mends.said(filled, mend, complete=False) if mend and said == Answer.MEND else {}
    refusal: PoolError | None = None
    if not filled.problems:
        try:
            await visit.book.answer(
                month=month,
                difference=key,
                answer=Answer(said),
                fields=fields,
                word=word,
                idempotency_key=filled.key,
            )
        except (Refused, Misused) as error:
            refusal = error
        else:
            return to(f"{visit.home}/in-hand", done="yes")
    status = (refusal.status or 409) if refusal else 422
    sentence = refusal.sentence if refusal else ""
    return await _shown(visit, visit.renewed(filled), refusal=sentence, status=status)


def _form(visit: Visit, each: HandedDifference, filled: Form | None) -> Form:
    """Give the form of a difference: as it comes back, or as its mend offers."""
    if filled and filled["difference"] == each.difference.key:
        return filled
    mend = each.difference.mend
    return visit.form(mends.offered(mend) if mend else {})


async def _in_hand(visit: Visit) -> list[HandedDifference]:
    return await listed(visit.book.handed())


async def _shown(visit: Visit, filled: Form | None = None, *, refusal: str = "", status: int = 200) -> Response:
    found, members = await together(_in_hand(visit), listed(visit.book.members()))
    return visit.show(
        "in_hand.html",
        status=status,
        cards=[(each, _form(visit, each, filled)) for each in found[:_MOST]],
        more=max(0, len(found) - _MOST),
        members=members,
        answers=visit.is_clerk,
        mends=mends,
        refusal=refusal,
        done=visit.query.get("done") == "yes",
    )


ROUTES = (page("/in-hand", show), deed("/in-hand/answers", answer))
