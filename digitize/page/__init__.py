"""The page: shoot, see, mend and print in a browser, on this computer or a phone in the shop.

In come requests of one's own browsers; out go what a browser shows, and facts told about patterns.
It has no way of its own to change a pattern: all goes through ``jobs/``. Open ``app.py`` first;
``guard.py`` says who may ask, ``bench.py`` what patterns there are, ``shoot.py`` photos that are
being taken, ``worker.py`` reads them aside, ``view.py`` what the browser gets, ``static/`` is the
browser's side.
"""

from digitize.page.serve import BENCH, PORT, code_words, serve

__all__ = ["BENCH", "PORT", "code_words", "serve"]
