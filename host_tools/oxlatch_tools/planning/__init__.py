"""The plan: one module for each question a builder has before metal is cut.

Each module is pure: an installation in, one `page.Page` out, with every number's formula and source. Nothing here reads
a clock, a file or the network; `report` and `pictures` alone turn pages into print.
"""
