"""A simulated world: adapters drawn at random, measured on simulated benches, truth recorded.

Its physics is written apart from the library that will be measured by it: circuits are stepped
through time, diodes are exponential, thermistors carry a temperature. It never imports that
library. Distributions stand in `catalogue` and `draw`, each with its source.
"""
