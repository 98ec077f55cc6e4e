"""Every start that works: what is taken, closed or short becomes forbidden spans of starts.

A start is a minute. A need that holds something from s + a to s + b is kept from s by whatever is
taken there, so each taken span forbids a span of starts; what is left is every start, to the minute, without
trying one. What depends on the state stays closed: each bound is a minute that moves with the start, or not.
"""
