"""The search over all choices: pieces, who works on them, which rows are kept."""
