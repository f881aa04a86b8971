"""How much of anything a file or a line of input may hold; what is more is refused with a message.

In: nothing. Out: whole numbers (bytes, values, characters), each with its reason. They keep a file
that is broken, or made to break things, from taking minutes or gigabytes; none of them is in the
way of a rig that people build.
"""

from __future__ import annotations

MOST_BYTES = 2 * 1024 * 1024
"""Of a scenario, a drill, a file of rates: ten times what `MOST_VALUES` values usually take."""
MOST_TABLE_BYTES = 20 * 1024 * 1024
"""Of a table: 200 bytes for each of `MOST_ROWS` rows."""
MOST_VALUES = 50_000
"""In a YAML file, aliases counted in full: a few times that would keep the reader for seconds."""
MOST_LEVELS = 12
"""One within the other in a YAML file: no part of a scenario lies deeper than 8."""
MOST_ROWS = 100_000
"""Of a table: ten years of daily rows for a large stock; read in a few seconds."""
MOST_COLUMNS = 100
"""Of a table: no table that is read here has 20."""
MOST_CELL = 120
"""Characters of a cell that is read; a name is half as long."""
MOST_NOTE = 2_000
"""Characters of a cell that is only carried along."""
MOST_PROBLEMS = 50
"""Told of one file; the rest is counted: nobody reads on, and each costs a search for a name."""
MOST_SAID = 2_000
"""Characters of one part of a message: what was found may be as long as the file."""
MOST_NAME = 60
"""Characters of a name: what still fits beside another one on a line of a report."""
MOST_TITLE = 200
"""Characters of a title, a label, a source: two lines of a report."""
MOST_CABINETS = 100_000
"""On all walls together: ten times the largest walls; some seconds to build."""
MOST_FILES = 20
"""That a scenario names under one key: each may be as large as the scenario itself."""
MOST_ACTS = 1_000
"""In one drill (or faults, or hints): it is run once for each of them, and lasts for minutes."""
MOST_TESTS = 2_000
"""Rows of a filled test sheet: each is played on the model of the rig."""
MOST_LINE = 1_000
"""Characters that somebody types on one line."""
MOST_GROUPS = 500
"""Wall groups of a scenario: each is fed and backed up by itself, and most shows have one."""
MOST_WALLS = 2_000
MOST_CIRCUITS = 20_000
"""Names alone; `MOST_DEEP` bounds what hangs on them."""
MOST_DEEP = 30
"""Circuits one behind the other, or types each like the next: mains to plug are 5."""
MOST_SOURCES = 200
"""Sources, or references, of a scenario."""
MOST_LAYERS = 100
"""Layers of a group, arrangements, layers of one arrangement: each may cut each other to pieces."""
MOST_TOPOLOGIES = 60
"""Held against the one offered, of one group: each is built, and has every fault tried on it."""
MOST_FORM = 400
"""Units, or relays, of a topology written out: twice what a wall of `MOST_CABINETS` asks for."""
MOST_CHAINS = 10_000
"""Chains that such a topology feeds: twice as many again."""
MOST_LISTED = 500
"""Entries of most lists: regions, limits, places, clauses, tests."""
MOST_PATTERNS = 2_000
"""Patterns of names in one mapping, routes, rates: each is held against every name."""
