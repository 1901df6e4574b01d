"""From a drawing to sheets that can be cut, laid and painted through.

>>> from ironlace.ornament.stencils import known_process, plan_sheets
>>> svg = (
...     '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
...     '<path fill-rule="evenodd" d="M5 5H35V25H5Z M9 9H31V21H9Z"/></svg>'
... )
>>> plan = plan_sheets(svg, known_process("film-knife"), "bridges")
>>> plan.report["islands"], len(plan.sheets)
(1, 1)
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
