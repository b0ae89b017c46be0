"""The HTTP side of the web pages: a JSON API over the store, the pages' own files, and who may see them.

`serving` runs beside the daemon in a thread of its own, with a store of its own; the pages themselves are the files in
`grafana-free-dashboards/`.
"""

from hivemon.pages.server import PagesServer, serving

__all__ = ["PagesServer", "serving"]
