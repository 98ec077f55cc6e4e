"""Work laid into time all at once: tasks that share what there is, and kiln loads over several nights.

A project goes in, a plan comes out, or the proof that there is none. The lower floor knows tasks, ways, draws
and lags (`project`), says them as constraints (`rules`, `model`) and searches (`solving`). The upper knows
loads, kilns and nights (`loads`) and asks the lower (`nights`, `planning`). OR-Tools CP-SAT searches.
"""
