"""The page's short glossary: the words that decide how a figure is read, the same as in the list for contributors."""

from __future__ import annotations

from planner.report.text.blocks import Facts, Section

GLOSSARY = (
    ("batch", "concrete cast together; a mix is its recipe"),
    ("trial batch", "cast to calibrate; its curve is what the site reads"),
    ("later pour", "concrete on site that the curve is read for, another batch of the mix"),
    ("own batch", "the trial batch read off its own curve; its error is as a rule the smaller"),
    ("replicates", "specimens of one batch broken together at one age and curing"),
    (
        "site-cured companions",
        "specimens cured beside the work, broken to judge a reading; those of later pours are site checks",
    ),
    ("schedule", "break ages with their specimens"),
    ("held out", "judged on batches that had no part in what is judged"),
    ("RMS", "root of the mean squared error, relative; too high and too low count alike"),
    ("inside", "share of batches or pours that keep the tolerance at every target"),
    ("safe reading", "the strength read divided by the safe-reading factor, to compare with the strength required"),
    ("maturity", "what temperature over time does to strength: equivalent age or temperature-time factor"),
)


def glossary_section() -> Section:
    """A dozen words with their meanings."""
    return Section("What the words mean", (Facts(GLOSSARY),))
