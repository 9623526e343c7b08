"""Processing: each step turns tables into tables through the kernels; called, it lists the steps that are installed.

``geoqa.steps()`` is the list, with what each does, needs and makes; ``geoqa.steps("runs")`` is one of them, with its
options. A job file names a step under ``[[steps]]``; tables in memory are run through steps by name with
``geoqa.Layers.from_tables(...).run("runs")``. A step of your own is a subclass of ``geoqa.Step``.

The packages below hold the steps by the question they answer; what is in them is private and may change.
"""
