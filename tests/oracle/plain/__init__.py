"""Every headline figure once more, from the tables themselves, in numpy and scipy alone.

Nothing here imports the program. One file a step: `tables` reads, `maturities` times, `study` parts specimens
between fit and truth, `fits` fits, `candidates` scores every choice, `rule` chooses and leaves batches out, `figures`,
`later_pours`, `bounds` and `restrictions` say what may be said.
"""
