"""Reports of other machines, and what their numbers say: schemes, dates, totals, survivors.

>>> from ironlace.survey import compare, read_reports
>>> rows = ["A,4.96.217", "B,11.95.30", "C,7.93.412"]
>>> reports = read_reports(chr(10).join(["id,mark", *rows])).reports
>>> compare(reports).best.name
'month-year-count'
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
