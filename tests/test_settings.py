import pytest

from pool_api.settings import SettingRefused, Settings, read_settings


def test_without_variables_the_defaults_stand() -> None:
    assert Settings() == read_settings({})


def test_variables_set_the_fields_they_name() -> None:
    wanted = Settings(database_url="postgresql:///book", host="::1", port=65_535, docs=False, lock_wait_ms=250)

    assert wanted == read_settings(
        {
            "CREDIT_POOL_DATABASE_URL": "postgresql:///book",
            "CREDIT_POOL_HOST": " ::1 ",
            "CREDIT_POOL_PORT": "65535",
            "CREDIT_POOL_DOCS": "off",
            "CREDIT_POOL_LOCK_WAIT_MS": "250",
        }
    )


def test_variables_of_others_are_left_alone() -> None:
    assert Settings() == read_settings({"CREDIT_POOL_TEST_BACKENDS": "sqlite", "PORT": "1", "credit_pool_port": "1"})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("CREDIT_POOL_PORT", "eighty"),
        ("CREDIT_POOL_PORT", "0"),
        ("CREDIT_POOL_PORT", "-1"),
        ("CREDIT_POOL_PORT", "65536"),
        ("CREDIT_POOL_PORT", "80.5"),
        ("CREDIT_POOL_PORT", "٨٠"),
        ("CREDIT_POOL_PROCESSES", ""),
        ("CREDIT_POOL_DOCS", "perhaps"),
        ("CREDIT_POOL_DATABASE_URL", "  "),
        ("CREDIT_POOL_PASSWORD_MEMORY_KIB", "19455"),
        ("CREDIT_POOL_PASSWORD_ROUNDS", "1"),
        ("CREDIT_POOL_SESSION_HOURS", "0"),
    ],
)
def test_a_value_that_makes_no_sense_is_refused_by_name(name: str, value: str) -> None:
    with pytest.raises(SettingRefused, match=name):
        read_settings({name: value})


@pytest.mark.parametrize("word", ["on", "ON", "true", "1", "yes"])
def test_a_switch_has_words_for_on(word: str) -> None:
    assert read_settings({"CREDIT_POOL_DOCS": word}).docs


@pytest.mark.parametrize("word", ["off", "Off", "false", "0", "no"])
def test_a_switch_has_words_for_off(word: str) -> None:
    assert not read_settings({"CREDIT_POOL_DOCS": word}).docs
