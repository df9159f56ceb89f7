"""Why a figure is what it is, over HTTP and through the client: the worked example's figures, down to the entries."""
