.DEFAULT_GOAL := help
.PHONY: help demo serve migrate test lint check fix openapi bench sbom lock

help: ## this list
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "make %-8s %s\n", $$1, $$2}' Makefile

demo: ## a group's month, recorded, costed, reconciled and settled, in a service that stays up
	@.ci/steps/setup service && .venv/bin/python -m seed.demo

serve: ## the service on the database of CREDIT_POOL_DATABASE_URL
	@.ci/steps/setup service && .venv/bin/python -m pool_api serve

migrate: ## bring that database to the newest revision
	@.ci/steps/setup service && .venv/bin/python -m pool_api migrate

test: ## every test, on both databases, with the floor of coverage
	@.ci/steps/setup dev && .ci/steps/browser && .ci/steps/test

lint: ## style, types and the import contracts
	@.ci/steps/setup dev && .ci/steps/lint

check: ## what the build checks: lint and test
	@.ci/run

fix: ## mend what can be mended by a tool
	@.ci/steps/setup dev && .ci/steps/fix

openapi: ## write the committed description of the API anew
	@.ci/steps/setup dev && .venv/bin/python -m pool_api openapi > pool_api/openapi.json

bench: ## what tests/bench measures: ratios beside baselines of the same run
	@.ci/steps/setup dev && .ci/steps/bench

sbom: ## what the service is made of, as a CycloneDX file in var
	@.ci/steps/setup dev && .ci/steps/sbom

lock: ## resolve the dependencies anew into the lock files (needs uv)
	@.ci/steps/lock
