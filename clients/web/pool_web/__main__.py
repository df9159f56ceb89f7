"""The pages on their own, for a service that runs elsewhere."""

from datetime import UTC, datetime

import click
import httpx
import uvicorn
from pool_client.line import TIMEOUT

from pool_web.peers import forward_peer
from pool_web.site import create_site


@click.command(epilog="Example: python -m pool_web --api https://pool.example")
@click.option("--api", required=True, help="The address of the service, without /v1.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Where the pages listen.")
@click.option("--port", default=8080, show_default=True, help="And on which port.")
def main(api: str, host: str, port: int) -> None:
    """Serve the pages until told to stop."""
    http = httpx.AsyncClient(timeout=TIMEOUT, event_hooks={"request": [forward_peer]})
    site = create_site(api=api, http=http, now=lambda: datetime.now(UTC))
    uvicorn.run(site, host=host, port=port, server_header=False, access_log=False, proxy_headers=False)


if __name__ == "__main__":
    main()
