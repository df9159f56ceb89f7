"""A second factor set up in a real browser: another program reads the picture that it paints, as an app would."""

from io import BytesIO
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
import zxingcpp
from matplotlib.image import imread
from playwright.sync_api import Page, ViewportSize

from tests.browser.conftest import DESK, PHONE, Open, Scheme
from tests.browser.looks import flaws, picture
from tests.served import PASSWORD, Served, code_of


def read_from_the_screen(page: Page) -> str:
    """Give what the picture says, by another program than the one that made it."""
    shot = imread(BytesIO(page.locator(".picture").screenshot()))
    (found,) = zxingcpp.read_barcodes((shot[..., :3].mean(axis=2) * 255).astype(np.uint8))
    return found.text


def give_second_factor(house: Served, page: Page) -> None:
    """Set a second factor up for whoever a page belongs to, by hand."""
    page.goto("/account/second-factor")
    page.get_by_role("button", name="Set it up").click()
    page.get_by_role("textbox", name="Code").fill(code_of(house, page.locator("code.secret").inner_text()))
    page.get_by_role("button", name="Confirm").click()
    page.get_by_role("link", name="I have kept them").click()


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (DESK, "dark")])
def test_the_picture_is_read_confirmed_and_asked_for_at_sign_in(
    house: Served, pool: str, open_page: Open, size: ViewportSize, scheme: Scheme
) -> None:
    page = open_page(pool, size=size, scheme=scheme)
    page.get_by_role("link", name="Set it up").click()
    page.get_by_role("button", name="Set it up").click()
    address = urlsplit(read_from_the_screen(page))
    (secret,) = parse_qs(address.query)["secret"]
    picture(page, "/second-factor-begun", size, scheme)

    assert ("otpauth", "totp") == (address.scheme, address.netloc)
    assert secret == page.locator("code.secret").inner_text()
    assert [] == flaws(page)
    page.get_by_role("textbox", name="Code").fill(code_of(house, secret))
    page.get_by_role("button", name="Confirm").click()
    page.get_by_text("they are shown this once").wait_for()
    assert 10 == page.locator("ol.codes li").count()
    assert [] == flaws(page)
    picture(page, "/recovery-codes", size, scheme)
    recovery = page.locator("ol.codes code").first.inner_text()

    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Name").fill(pool)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_text("Your password is right.").wait_for()
    assert [] == flaws(page)
    picture(page, "/sign-in-code", size, scheme)
    page.get_by_text("With a recovery code instead").click()
    page.get_by_label("Recovery code").fill(recovery)
    page.get_by_role("button", name="Sign in with the recovery code").click()
    page.wait_for_url(f"**/book/{pool}")
