"""The import contracts of pyproject.toml hold, and each of them notices what it is there for."""

from copy import deepcopy
from typing import Any

import grimp
import pytest
from importlinter.api import read_configuration
from importlinter.contracts.forbidden import ForbiddenContract
from importlinter.contracts.independence import IndependenceContract
from importlinter.contracts.layers import LayersContract
from importlinter.contracts.protected import ProtectedContract
from importlinter.domain.contract import Contract

from tests.architecture.sources import ROOT

KINDS: dict[str, type[Contract]] = {
    "forbidden": ForbiddenContract,
    "independence": IndependenceContract,
    "layers": LayersContract,
    "protected": ProtectedContract,
}

TOLD: dict[str, Any] = read_configuration(str(ROOT / "pyproject.toml"))
CONTRACTS: dict[str, dict[str, Any]] = {each["id"]: each for each in TOLD["contracts_options"]}


@pytest.fixture(scope="module")
def imports() -> grimp.ImportGraph:
    return grimp.build_graph(*TOLD["session_options"]["root_packages"], include_external_packages=True, cache_dir=None)


def is_kept(contract: str, imports: grimp.ImportGraph) -> bool:
    told = CONTRACTS[contract]
    made = KINDS[told["type"]](told["name"], TOLD["session_options"], deepcopy(told))
    return made.check(deepcopy(imports), verbose=False).kept


@pytest.mark.parametrize("contract", CONTRACTS)
def test_the_contract_is_kept(contract: str, imports: grimp.ImportGraph) -> None:
    assert is_kept(contract, imports)


VIOLATIONS = {
    "rooms": [
        ("pool_api.domain.values", "pool_api.store.errors"),
        ("pool_api.settings", "pool_api.store.engine"),
        ("pool_api.store.engine", "pool_api.rest.problems"),
        ("pool_api.intake.columns", "pool_api.services.keys"),
        ("pool_api.helpers", "pool_api.domain"),
    ],
    "domain": [
        ("pool_api.domain.values", "pool_api.domain.entries"),
        ("pool_api.domain.costing", "pool_api.domain.netting"),
        ("pool_api.domain.helpers", "pool_api.domain.values"),
    ],
    "store": [
        ("pool_api.store.tables", "pool_api.store.engine"),
        ("pool_api.store.journal", "pool_api.store.directory"),
        ("pool_api.store.utils", "pool_api.store.errors"),
    ],
    "services": [
        ("pool_api.services.keys", "pool_api.services.ledger"),
        ("pool_api.services.office", "pool_api.services.terms"),
    ],
    "intake": [("pool_api.intake.cells", "pool_api.intake.table")],
    "reports": [
        ("pool_api.reports.overview", "pool_api.reports.plots"),
        ("pool_api.reports.statement", "pool_api.reports.helpers"),
    ],
    "rest": [("pool_api.rest.errors", "pool_api.rest.problems"), ("pool_api.rest.auth", "pool_api.rest.gate")],
    "pure-core": [("pool_api.domain.values", name) for name in ("os", "random", "pydantic", "sqlalchemy", "time")],
    "sql": [("pool_api.services.keys", "sqlalchemy"), ("pool_api.rest.auth", "psycopg")],
    "http": [("pool_api.services.keys", "fastapi"), ("pool_api.store.engine", "http")],
    "routes": [("pool_api.rest.routes.keys", "pool_api.store.engine")],
    "tables": [("pool_api.services.keys", "pool_api.store.tables")],
    "settings": [("pool_api.services.keys", "pool_api.settings"), ("pool_api.store.engine", "pool_api.settings")],
    "web": [("pool_web.visit", "pool_api.settings"), ("pool_web.pages.now", "sqlalchemy")],
    "pages": [
        ("pool_web.forms", "pool_web.visit"),
        ("pool_web.view", "pool_web.deeds"),
        ("pool_web.helpers", "pool_web.forms"),
    ],
    "client": [("pool_api.rest.wire", "pool_client.wire"), ("pool_client.wire", "pool_api.domain.values")],
}


@pytest.mark.parametrize(
    ("contract", "importer", "imported"),
    [(contract, *violation) for contract, violations in VIOLATIONS.items() for violation in violations],
)
def test_the_contract_notices(contract: str, importer: str, imported: str, imports: grimp.ImportGraph) -> None:
    changed = deepcopy(imports)
    for module in (importer, imported):
        if module not in changed.modules:
            changed.add_module(module, is_squashed=not module.startswith("pool_"))
    changed.add_import(importer=importer, imported=imported)

    assert not is_kept(contract, changed)


def test_every_contract_is_tried() -> None:
    assert CONTRACTS.keys() == VIOLATIONS.keys()
