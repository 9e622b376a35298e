"""The curve that a site holds: fitted, accepted by its companions, checked on later pours, withdrawn when it no
longer holds. Values only; sentences about the rules stand in :mod:`.rule_words`, once for every output.
"""
